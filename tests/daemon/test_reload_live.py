"""The settings file read again on real ports, while notes, clock and an answer go through."""

from __future__ import annotations

import time
from collections.abc import Iterator

import pytest

from live.daemon.link import LinkClient
from tests.hearing import Receiver
from tests.jackworld import Player
from tests.processes import run, wait_until
from tests.running import ANSWER, CLOCK_OUT, KEYS_IN, THROUGH, Running

pytestmark = pytest.mark.jack
PULSE, START = b"\xf8", b"\xfa"
SETTINGS = """[play]
key = "D minor"
progression = "i VI iv v"
[time]
tempo = 240
clock_out = true
start_on_first_note = false
[form]
call_bars = 1
answer_bars = 4
"""
ZONE = '[[zone]]\nrole = "plain"\nrange = "C0:C9"\nsnap = "nearest"\n'
TASTE = "[taste]\ndensity = 0.8\n[answer]\ngroove = 'trap'\n"
FILES = (
    SETTINGS,
    SETTINGS.replace("D minor", "D dorian") + TASTE,
    SETTINGS + ZONE,
    SETTINGS.replace("i VI iv v", "i iv") + "[lights]\ntonic = 9\n",
)
IN_EVERY_KEY = (62, 64, 65, 67, 69, 72, 74)
"""Notes of D minor and of D dorian, so that what leaves is what came in."""


@pytest.fixture
def running(shared: Running, jack_server: None) -> Iterator[Running]:
    """At rest, with the settings of the first file and none set by hand."""
    yield shared
    shared.tell("stop")
    shared.tell("key", "D minor")
    reload(shared, SETTINGS)


@pytest.fixture
def pad(running: Running) -> Iterator[Player]:
    with Player("pad", ins=("through", "answer", "clock")) as one:
        one.connect(one.port("out"), KEYS_IN)
        one.connect(THROUGH, one.port("through"))
        one.connect(ANSWER, one.port("answer"))
        one.connect(CLOCK_OUT, one.port("clock"))
        yield one


def reload(running: Running, text: str) -> dict[str, object]:
    running.config.write_text(text, encoding="utf-8")
    return running.tell("reload")


def stream(notes: int, step_s: float = 0.004) -> list[tuple[float, bytes]]:
    """Notes of the key, one every few milliseconds, each held for three others."""
    events = []
    for index in range(notes):
        note = IN_EVERY_KEY[index % len(IN_EVERY_KEY)]
        events.append((index * step_s, bytes((0x90, note, 1 + index % 127))))
        events.append(((index + 3) * step_s, bytes((0x80, note, index % 128))))
    return sorted(events, key=lambda event: event[0])


def test_a_stream_of_notes_and_the_clock_go_through_unbroken(running: Running, pad: Player) -> None:
    running.tell("start")
    pad.play(stream(1500))
    reloads = 0
    while len(pad.sent()) < 3000:
        changed = reload(running, FILES[(reloads + 1) % len(FILES)])["changed"]
        assert changed
        reloads += 1
    pad.wait_until_sent()
    through = [one.data for one in pad.wait_for(3000, 10, "through")]
    assert reloads > 10
    assert through == [one.data for one in pad.sent()]
    receiver = Receiver()
    receiver.hear(through)
    assert len(receiver.ons) == 1500
    assert receiver.held == []
    clock = [one.data for one in pad.heard("clock")]
    after = clock[clock.index(START) + 1 :]
    assert set(after) == {PULSE}
    status = running.status()
    beats = (status["bar"] - 1) * 4 + status["beat"] - 1
    assert abs(len([d for d in pad.heard("clock") if d.data == PULSE]) / 24 - beats) < 4
    running.tell("stop")
    status = running.status()
    assert (status["lost"], status["held"], status["sounding"]) == (0, [], [])


def playing_an_answer(running: Running, pad: Player) -> None:
    """Call for one bar; returns once the answer sounds."""
    running.tell("start")
    pad.play([(0.1 + index * 0.2, bytes((0x90, 62 + 3 * index, 90))) for index in range(3)])
    pad.play([(0.2 + index * 0.2, bytes((0x80, 62 + 3 * index, 64))) for index in range(3)])
    wait_until(lambda: len(pad.heard("answer")) > 2, "the answer", step_s=0.01)


def test_an_answer_that_plays_goes_on(running: Running, pad: Player) -> None:
    playing_an_answer(running, pad)
    before = running.status()
    assert before["answer_state"] == "playing"
    reply = reload(running, SETTINGS + ZONE + "[lights]\ntonic = 9\n[window]\ntheme = 'dark'\n")
    assert set(reply["changed"]) == {"zone", "lights.tonic", "window.theme"}
    after = running.status()
    assert (after["answer_state"], after["answer"]) == ("playing", before["answer"])
    running.wait_for("phrase", "call")
    receiver = Receiver()
    receiver.hear(one.data for one in pad.heard("answer"))
    assert receiver.ons == [note["pitch"] for note in before["answer"]]
    assert receiver.held == []


def test_another_form_ends_the_answer_at_once(running: Running, pad: Player) -> None:
    playing_an_answer(running, pad)
    assert reload(running, SETTINGS.replace("answer_bars = 4", "answer_bars = 2"))["changed"] == [
        "form.answer_bars"
    ]
    assert running.status()["answer_state"] != "playing"
    time.sleep(0.3)  # what was queued would sound by now
    receiver = Receiver()
    receiver.hear(one.data for one in pad.heard("answer"))
    assert receiver.held == []
    assert running.status()["playing"]


def test_a_bad_file_is_refused_in_words_and_nothing_changes(running: Running, pad: Player) -> None:
    before = running.status()
    pad.send(b"\x90\x3e\x50")
    pad.wait_for(1, port="through")
    running.config.write_text(SETTINGS.replace("240", "9999"), encoding="utf-8")
    with LinkClient(running.link) as client:
        reply = client.tell("reload")
    assert (reply["ok"], reply["bad_input"]) == (False, True)
    for part in ("time.tempo", "line 5", "9999", "20 to 400"):
        assert part in reply["error"]
    pad.send(b"\x80\x3e\x40")
    pad.wait_for(2, port="through")
    after = running.status()
    assert all(after[name] == before[name] for name in ("key", "tempo", "progression"))


def test_tell_says_what_waits_for_the_next_start(running: Running) -> None:
    text = SETTINGS.replace("D minor", "G minor") + "[ports]\nthrough = 'other'\n"
    running.config.write_text(text, encoding="utf-8")
    told = run(running.command("tell", "reload"), env=running.env)
    assert told.status == 0
    assert told.out.strip() == "changed: play.key; applies at the next start: ports.through"
    [through] = [p for p in running.status()["outputs"] if p["role"] == "through"]
    assert through["state"] == "open"


def test_a_key_set_by_hand_stays_over_the_sections_until_the_file_says_otherwise(
    running: Running,
) -> None:
    plan = SETTINGS + '[[section]]\nname = "Quay"\nbars = 8\nkey = "F minor"\n'
    reload(running, plan)
    running.wait_for("key", "F minor")
    running.tell("key", "E minor")
    running.wait_for("key", "E minor")
    assert reload(running, plan + "[lights]\ntonic = 9\n")["changed"] == ["lights.tonic"]
    assert running.status()["key"] == "E minor"
    assert reload(running, plan.replace("F minor", "C minor"))["changed"] == [
        "lights.tonic",
        "section",
    ]
    running.wait_for("key", "C minor")
