"""Leading others by MIDI clock through real ports, and tap tempo.

MIDI 1.0 Detailed Specification 4.2.1: 24 clocks (F8) a quarter note; after start (FA) the next one
is the first beat, after continue (FB) the place that song position (F2) told, in sixteenths of six.
"""

from __future__ import annotations

import time
from collections.abc import Iterator

import pytest

from tests.jackworld import Player
from tests.processes import wait_until
from tests.running import CLOCK_IN, CLOCK_OUT, Running

pytestmark = pytest.mark.jack
PULSE, START, CONTINUE, STOP = b"\xf8", b"\xfa", b"\xfb", b"\xfc"
SETTINGS = '[play]\nkey = "D minor"\n[time]\ntempo = 240.0\nclock_out = true\n'


@pytest.fixture
def drums(running: Running) -> Iterator[Player]:
    """A drum machine that listens to our clock."""
    with Player("drums", ins=("in",), outs=("out",)) as one:
        one.connect(CLOCK_OUT, one.port("in"))
        yield one


def heard(drums: Player) -> list[bytes]:
    return [one.data for one in drums.heard("in")]


def wait_for(drums: Player, data: bytes, count: int = 1) -> list[bytes]:
    wait_until(lambda: heard(drums).count(data) >= count, f"{count} x {data.hex()}", step_s=0.05)
    return heard(drums)


def test_start_stop_and_continue_reach_a_receiver_in_order(running: Running, drums: Player) -> None:
    wait_for(drums, PULSE, 24)  # it runs while we stand still
    running.tell("start")
    wait_for(drums, START)
    wait_until(lambda: running.status()["bar"] >= 2, "bar 2", step_s=0.05)
    running.tell("stop")
    sent = wait_for(drums, STOP)
    during = sent[sent.index(START) + 1 : sent.index(STOP)]
    assert set(during) == {PULSE}
    status = running.status()
    clocks = ((status["bar"] - 1) * 4 + status["beat"] - 1) * 24
    assert 0 <= len(during) - clocks <= 1.5  # the receiver stands where we stand
    drums.forget()
    running.tell("continue", "17")
    sent = wait_for(drums, PULSE, 48)
    assert [data for data in sent if data != PULSE] == [b"\xf2\x00\x02", CONTINUE]
    assert running.status()["bar"] >= 17


def test_a_daw_that_runs_takes_over_and_is_not_sent_its_own_clock(
    running: Running, drums: Player
) -> None:
    drums.connect(drums.port("out"), CLOCK_IN)
    wait_for(drums, PULSE, 24)
    drums.play([(index / 60, PULSE) for index in range(120)], port="out")
    running.wait_for("clock", "following")
    drums.forget()
    drums.play([(0.0, START), *((index / 60, PULSE) for index in range(60))], port="out")
    drums.wait_until_sent()
    assert heard(drums) == []
    running.wait_for("clock_state", "lost")


def test_our_clock_plugged_into_our_own_input_is_not_followed(
    running: Running, drums: Player
) -> None:
    drums.connect(CLOCK_OUT, CLOCK_IN)
    wait_until(lambda: "comes back" in running.status()["notice"], "the notice", step_s=0.05)
    running.tell("start")
    wait_until(lambda: running.status()["bar"] >= 2, "bar 2", step_s=0.05)
    status = running.status()
    assert (status["clock"], status["tempo"], status["playing"]) == ("internal", 240.0, True)
    assert heard(drums).count(START) == 1


def test_taps_set_the_tempo(running: Running) -> None:
    assert running.tell("tap")["taps"] == 1
    began_s = time.monotonic()
    assert running.status()["tempo"] == 240.0
    wait_until(lambda: time.monotonic() - began_s > 0.4, "the next beat", step_s=0.01)
    reply = running.tell("tap")
    assert reply["taps"] == 2
    assert 20 <= reply["tempo"] <= 150  # a gap of 0.4 s or more
    running.wait_for("tempo", reply["tempo"])
