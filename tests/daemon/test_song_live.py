"""The song plan and cues through real ports, driven by an outside clock.

MIDI 1.0 Detailed Specification 4.2.1: song position (F2) counts sixteenths of six clocks from the
song's start; after start (FA) or continue (FB) the next clock (F8) is the place.
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.jackworld import Player
from tests.processes import wait_until
from tests.running import CLOCK_IN, KEYS_IN, THROUGH, Running

pytestmark = pytest.mark.jack
PULSE_S = 60 / 171.3 / 24
SETTINGS = """
[play]
key = "D minor"
snap = "down"
[time]
start_on_first_note = false
[[section]]
name = "Quay"
bars = 2
[[section]]
name = "Swell"
bars = 2
key = "E major"
progression = "I IV"
groove = "half-time"
[[cue]]
on = "controller 20"
does = "section next"
[[cue]]
on = "notes C0:B0"
does = "tonic"
"""


@pytest.fixture
def daw(running: Running) -> Iterator[Player]:
    with Player("daw", ins=("through",), outs=("clock", "keys")) as one:
        connect(one)
        yield one


def connect(player: Player) -> None:
    player.connect(player.port("clock"), CLOCK_IN)
    player.connect(player.port("keys"), KEYS_IN)
    player.connect(THROUGH, player.port("through"))


def pulses(count: int, from_s: float = 0.0) -> list[tuple[float, bytes]]:
    return [(from_s + index * PULSE_S, b"\xf8") for index in range(count)]


def note(pitch: int, at_s: float = 0.0) -> list[tuple[float, bytes]]:
    return [(at_s, bytes((0x90, pitch, 90))), (at_s + 0.02, bytes((0x80, pitch, 64)))]


def sounded(daw: Player, pressed: int) -> int:
    """The note that comes out for a key played now."""
    daw.forget()
    daw.play(note(pressed), port="keys")
    wait_until(lambda: len(daw.heard("through")) >= 2, "the note and its end", step_s=0.02)
    first, last = daw.heard("through")[:2]
    assert (first.data[0], last.data[0], first.data[1]) == (0x90, 0x80, last.data[1])
    return first.data[1]


def wrong_in_five_bars(daw: Player) -> list[tuple[int, int, float]]:
    """A clock from the song's start, and a key struck every sixteenth, half of one off the grid.

    Returns: the notes that came out in the other key: (bar from 0, pitch, ms to the nearest line).
    """
    daw.forget()
    lead_in_s = 24 * PULSE_S
    clock = [(lead_in_s - PULSE_S / 2, b"\xfa"), *pulses(24), *pulses(5 * 96, lead_in_s)]
    clock.append((lead_in_s + 5 * 96 * PULSE_S, b"\xfc"))
    daw.play(sorted(clock, key=lambda event: event[0]), port="clock", start_in_s=0.2)
    keys = []
    for sixteenth in range(5 * 16):
        keys += note(65, 0.2 + lead_in_s + (sixteenth + 0.5) * 6 * PULSE_S)
    daw.play(keys, port="keys", start_in_s=0.0)
    daw.wait_until_sent()
    wait_until(lambda: len(ons(daw)) >= 5 * 16, "every note", step_s=0.05)
    lines_ns = [one.at_ns for one in daw.sent() if one.data == b"\xf8"][24::96]
    struck_ns = [one.at_ns for one in daw.sent() if one.data[0] == 0x90]
    wrong = []
    for at_ns, (_, pitch) in zip(struck_ns, ons(daw), strict=True):
        bar = sum(line <= at_ns for line in lines_ns) - 1
        if pitch != (65 if bar in (0, 1, 4) else 64):
            wrong.append((bar, pitch, min(abs(line - at_ns) for line in lines_ns) / 1e6))
    return wrong


def test_the_key_changes_on_the_outside_bar_line(running: Running, daw: Player) -> None:
    """What is struck comes out in D minor up to the line, in E major after it, and back.

    A second go is for a machine that stalls while a key is struck near a line.
    """
    for _ in range(2):
        wrong = wrong_in_five_bars(daw)
        print("wrong (bar, pitch, ms from a line):", wrong)
        if not wrong:
            break
    assert wrong == []
    assert {pitch for _, pitch in ons(daw)} == {64, 65}
    status = running.status()
    assert (status["section"], status["section_bars"], status["key"]) == ("Quay", 2, "D minor")
    assert status["next_section"] == "Swell"


def ons(daw: Player) -> list[tuple[int, int]]:
    return [(one.at_ns, one.data[1]) for one in daw.heard("through") if one.data[0] == 0x90]


def test_song_position_puts_us_into_the_section_of_its_bar(running: Running, daw: Player) -> None:
    daw.play([(0.0, b"\xf2\x20\x00"), (0.05, b"\xfb"), *pulses(30, 0.1)], port="clock")  # bar 3
    running.wait_for("section", "Swell")
    running.wait_for("playing", value=True)
    status = running.status()
    assert (status["key"], status["progression"], status["groove"]) == (
        "E major",
        "I IV",
        "half-time",
    )
    assert (status["section_bar"], status["progression_bar"], status["chord"]) == (1, 1, "E")
    assert sounded(daw, 65) == 64


def test_a_section_by_hand_by_a_cue_and_what_cannot_be_done(running: Running, daw: Player) -> None:
    running.tell("section", "Swell")
    running.wait_for("key", "E major")
    running.tell("start")
    daw.play([(0.0, b"\xb0\x14\x7f"), (0.05, b"\xb0\x14\x00")], port="keys")
    running.wait_for("section", "Quay")
    running.tell("key", "F major")
    running.wait_for("key", "F major")
    assert daw.heard("through") == []


def test_a_learned_cue_changes_the_key_and_survives_a_restart(
    running: Running, daw: Player
) -> None:
    running.tell("learn", "key", "F#", "minor")
    daw.play(note(24), port="keys")
    wait_until(lambda: "note C1" in running.status()["notice"], "it is learned", step_s=0.02)
    assert running.status()["key"] == "D minor"
    assert daw.heard("through") == []
    daw.play(note(24), port="keys")
    running.wait_for("key", "F# minor")
    assert sounded(daw, 65) == 64
    running.close()
    running.start()
    connect(daw)
    assert running.status()["key"] == "D minor"
    daw.forget()
    daw.play(note(24), port="keys")
    running.wait_for("key", "F# minor")
    assert daw.heard("through") == []
    running.tell("learn", "forget")
    assert sounded(daw, 24) == 23


def test_the_key_one_wants_is_pressed_and_the_window_and_the_settings_know_it(
    running: Running, daw: Player
) -> None:
    daw.play([*note(12 + 7), *note(64, 0.005)], port="keys")  # G, and a note 5 ms later
    running.wait_for("key", "G minor")
    wait_until(lambda: len(daw.heard("through")) >= 2, "the note and its end", step_s=0.02)
    assert [pitch for _, pitch in ons(daw)] == [63]
    running.tell("snap", "up")  # the settings as they stand hold the key that was pressed
    assert running.status()["key"] == "G minor"
