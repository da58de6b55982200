"""Following a DAW's MIDI clock through real ports.

MIDI 1.0 Detailed Specification, system real time messages: 24 timing clocks (F8) in a quarter note;
after start (FA) the next F8 is the first beat; stop (FC) is at once; continue (FB) goes on from the
place; song position (F2) counts sixteenths of six clocks.
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.jackworld import Player
from tests.processes import wait_until
from tests.running import ANSWER, CLOCK_IN, KEYS_IN, Running

pytestmark = pytest.mark.jack
TEMPO_BPM = 171.3
PULSE_S = 60 / TEMPO_BPM / 24
BAR_S = 4 * 60 / TEMPO_BPM
HEARD_AS_ONE_NS = 10_000_000
"""Wessel and Wright, Computer Music Journal 26(3), 2002: 10 ms. What is reached is measured in
tests/bench (`lateness`)."""
SETTINGS = """
[play]
key = "D minor"
progression = "i VI iv v"
[form]
call_bars = 1
answer_bars = 1
"""


@pytest.fixture
def daw(running: Running) -> Iterator[Player]:
    with Player("daw", ins=("answer",), outs=("clock", "keys")) as one:
        one.connect(one.port("clock"), CLOCK_IN)
        one.connect(one.port("keys"), KEYS_IN)
        one.connect(ANSWER, one.port("answer"))
        yield one


def pulses(count: int, from_s: float = 0.0) -> list[tuple[float, bytes]]:
    return [(from_s + index * PULSE_S, b"\xf8") for index in range(count)]


def test_answers_start_on_the_outside_bar_lines(running: Running, daw: Player) -> None:
    """Three rounds, of which the best one counts: a busy machine holds periods up."""
    lead_in_s, rounds = 48 * PULSE_S, 3
    fa = (lead_in_s - PULSE_S / 2, b"\xfa")
    clock = [*pulses(48), fa, *pulses(96 * 2 * rounds + 24, lead_in_s)]
    daw.play(sorted(clock, key=lambda event: event[0]), port="clock", start_in_s=0.2)
    keys = []
    for index, note in enumerate((62, 65, 69) * rounds):
        at_s = 0.2 + lead_in_s + 0.05 + index // 3 * 2 * BAR_S + index % 3 * 0.4
        keys += [(at_s, bytes((0x90, note, 90))), (at_s + 0.2, bytes((0x80, note, 64)))]
    daw.play(keys, port="keys", start_in_s=0.0)
    daw.wait_until_sent()
    sent_pulses = [one.at_ns for one in daw.sent() if one.data == b"\xf8"][48:]
    ons = [one.at_ns for one in daw.heard("answer") if one.data[0] == 0x90]
    lines_ns = [sent_pulses[96 * bar] for bar in (1, 3, 5)]
    lates_ns = [min((on_ns - line_ns for on_ns in ons), key=abs) for line_ns in lines_ns]
    status = running.status()
    print("ms after the bar lines:", [round(ns / 1e6, 2) for ns in lates_ns], status["tempo"])
    assert min(abs(late_ns) for late_ns in lates_ns) <= HEARD_AS_ONE_NS
    assert status["clock"] == "following"
    assert abs(status["tempo"] - TEMPO_BPM) <= 0.1
    assert status["playing"]


def test_stop_continue_and_song_position_keep_the_place(running: Running, daw: Player) -> None:
    # 8 sixteenths into bar 3 (from 1): 2 bars and a half = 40 sixteenths
    daw.play([(0.0, b"\xf2\x28\x00"), (0.05, b"\xfb"), *pulses(25, 0.1)], port="clock")
    daw.wait_until_sent()
    daw.play([(0.0, b"\xfc")], port="clock", start_in_s=0.005)
    daw.wait_until_sent()
    running.wait_for("playing", value=False)
    status = running.status()
    assert status["bar"] == 3
    assert 3.9 <= status["beat"] <= 4.2  # beat 3, and one beat of clocks on
    daw.play([(0.0, b"\xfb"), *pulses(25, 0.05)], port="clock")
    running.wait_for("bar", 4)


def test_a_clock_that_goes_away_is_told_and_the_tempo_is_kept(
    running: Running, daw: Player
) -> None:
    daw.play([(0.0, b"\xfa"), *pulses(192, 0.05)], port="clock")
    daw.wait_until_sent()
    running.wait_for("clock_state", "lost")
    status = running.status()
    assert status["playing"]
    assert abs(status["tempo"] - TEMPO_BPM) <= 0.1
    assert status["notice"] == "the outside clock has gone; tempo kept"


def test_of_two_masters_on_one_port_one_is_followed_and_named(
    running: Running, daw: Player
) -> None:
    with Player("other", ins=(), outs=("clock",)) as other:
        other.connect(other.port("clock"), CLOCK_IN)
        daw.play([(0.0, b"\xfa"), *pulses(2000, 0.05)], port="clock")
        other.play([(index / 40, b"\xf8") for index in range(1000)], port="clock", start_in_s=1.0)
        wait_until(lambda: "two clocks" in running.status()["notice"], "the notice", step_s=0.05)
        status = running.status()
    named = float(status["notice"].split("the one at ")[1].split(" BPM")[0])
    assert min(abs(named - tempo_bpm) for tempo_bpm in (TEMPO_BPM, 100)) <= 3
