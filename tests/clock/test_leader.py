"""The clock leader, heard by a receiver that knows MIDI 1.0 and nothing of us.

MIDI 1.0 Detailed Specification 4.2.1: 24 clocks a quarter note; after start (FA) the next clock is
the first beat, after continue (FB) it is the place; song position (F2) in sixteenths of 6 clocks,
14 bits, low 7 first.
"""

import random
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from live.clock.leader import MOST_OVERDUE, READY_NS, ClockLeader
from live.clock.transport import Transport

MS = 1_000_000
SECOND = 1_000_000_000
TEN_MINUTES = 600 * SECOND


class Receiver:
    """Counts clocks as the standard says."""

    def __init__(self):
        self.clocks = 0  # position of the next clock
        self.runs = False
        self.heard = []  # (at_ns, clock) while it runs
        self.idle = []
        self.ready_ns = None

    def hear(self, sent):
        for at_ns, data in sent:
            if data == b"\xfa":
                self.clocks, self.runs, self.ready_ns = 0, True, at_ns
            elif data == b"\xfb":
                self.runs, self.ready_ns = True, at_ns
            elif data == b"\xfc":
                self.runs = False
            elif data[0] == 0xF2:
                assert not self.runs
                self.clocks = (data[1] | data[2] << 7) * 6
            elif self.runs:
                assert data == b"\xf8"
                if self.ready_ns is not None:
                    assert at_ns - self.ready_ns >= MS
                    self.ready_ns = None
                self.heard.append((at_ns, self.clocks))
                self.clocks += 1
            else:
                self.idle.append(at_ns)


class Band:
    """A transport, its leader and the receiver, on time driven by hand."""

    def __init__(self, tempo_bpm=120.0):
        self.transport = Transport(tempo_bpm)
        self.leader = ClockLeader(self.transport)
        self.receiver = Receiver()
        self.now_ns = 0

    def to(self, at_ns):
        """Every pulse at its time."""
        while (due_ns := self.leader.due_ns()) is not None and due_ns <= at_ns:
            self.now_ns = max(self.now_ns, due_ns)
            self.take()
        self.now_ns = at_ns

    def take(self):
        sent = self.leader.take(self.now_ns)
        self.receiver.hear(sent)
        return sent

    def start(self, tick=0):
        self.transport.start(self.now_ns, tick)
        sent = self.leader.start(self.now_ns)
        self.receiver.hear(sent)
        return [data for _, data in sent]

    def stop(self):
        self.transport.stop(self.now_ns)
        sent = self.leader.stop(self.now_ns)
        self.receiver.hear(sent)
        return [data for _, data in sent]

    def check_places(self, slack_ns=1):
        """Each clock stands for where the transport was, but for the first, which waits."""
        assert self.receiver.heard
        for at_ns, clock in self.receiver.heard[1:]:
            assert abs(self.transport.ns_at(clock * 40) - at_ns) <= slack_ns


@pytest.mark.parametrize("tempo_bpm", [20.0, 120.0, 171.3, 174.123, 400.0])
def test_ten_minutes_do_not_drift(tempo_bpm):
    """The last pulse is where arithmetic has it, to the nanosecond."""
    band = Band(tempo_bpm)
    band.now_ns = 12345
    assert band.start() == [b"\xfa"]
    band.to(12345 + TEN_MINUTES)
    heard = band.receiver.heard
    assert len(heard) in (int(tempo_bpm * 240) + 1, int(tempo_bpm * 240))
    last_ns, clock = heard[-1]
    assert abs(last_ns - (12345 + clock * 60e9 / (tempo_bpm * 24))) <= 1
    assert heard[0] == (12345 + READY_NS, 0)
    band.check_places()


def test_a_leader_that_is_asked_late_keeps_its_deadlines():
    """Lateness of one turn is never handed on to the next pulse."""
    band = Band(171.3)
    band.start()
    rng = random.Random(1)
    while band.now_ns < 60 * SECOND:
        band.now_ns = max(band.now_ns, band.leader.due_ns()) + round(rng.expovariate(1) * MS)
        band.take()
    band.check_places()


def test_pulses_run_while_stopped_at_the_tempo_in_force():
    band = Band(120.0)
    band.to(2 * SECOND)
    idle = band.receiver.idle
    steps = {b - a for a, b in pairwise(idle[1:])}
    assert len(idle) in (95, 96)
    assert steps <= {20_833_333, 20_833_334}
    band.transport.set_tempo(band.now_ns, 60.0)
    band.to(4 * SECOND)
    assert band.receiver.idle[-1] - band.receiver.idle[-2] == pytest.approx(SECOND / 24, abs=1)
    assert not band.receiver.heard


def test_while_a_clock_is_followed_nothing_is_sent():
    band = Band(120.0)
    band.to(SECOND)
    for number in range(48):
        band.transport.clock_pulse(SECOND + number * 20 * MS)
    band.to(2 * SECOND)
    assert band.leader.due_ns() is None
    band.now_ns = 2 * SECOND
    assert band.take() == []
    assert not band.leader.leads
    assert max(band.receiver.idle) <= SECOND + 21 * MS
    assert not band.transport.check_clock(3 * SECOND)  # it has gone: ours is back
    band.to(4 * SECOND)
    assert band.receiver.idle[-1] > 3.9 * SECOND


def test_stop_and_continue_keep_the_place():
    band = Band(120.0)
    band.start()
    band.to(round(2.2 * SECOND))  # 4.4 beats
    assert band.stop() == [b"\xfc"]
    assert band.stop() == []
    band.to(5 * SECOND)
    ticks = band.transport.tick_at(band.now_ns)
    place = ticks // 240 * 240
    assert band.start(place) == [bytes((0xF2, place // 240, 0)), b"\xfb"]
    band.to(8 * SECOND)
    assert [clock for _, clock in band.receiver.heard][-1] == 17 * 6 + 3 * 48
    for at_ns, clock in band.receiver.heard:
        if at_ns > 5 * SECOND + READY_NS:
            assert abs(band.transport.ns_at(clock * 40) - at_ns) <= 1
    grid = band.receiver.idle
    assert all(b - a <= 20_833_334 for a, b in pairwise(grid))


@pytest.mark.parametrize(
    ("tick", "sent"),
    [
        (240, [b"\xf2\x01\x00", b"\xfb"]),
        (241, [b"\xf2\x02\x00", b"\xfb"]),  # on to the next sixteenth
        (240 * 128, [b"\xf2\x00\x01", b"\xfb"]),
        (240 * 16383, [b"\xf2\x7f\x7f", b"\xfb"]),
        (240 * 16384, [b"\xfb"]),  # 14 bits are not enough
    ],
)
def test_song_position_is_told_in_sixteenths(tick, sent):
    band = Band(120.0)
    assert band.start(tick) == sent
    band.to(2 * SECOND)
    first_ns, clock = band.receiver.heard[1]
    if tick < 240 * 16384:
        assert abs(band.transport.ns_at(clock * 40) - first_ns) <= 1


@given(st.lists(st.tuples(st.integers(1, 2000), st.floats(20, 400)), min_size=1, max_size=12))
@settings(deadline=None)
def test_a_receiver_is_where_we_are_whatever_the_tempo_does(changes):
    band = Band(120.0)
    band.start()
    for length_ms, tempo_bpm in changes:
        band.to(band.now_ns + length_ms * MS)
        band.transport.set_tempo(band.now_ns, tempo_bpm)
        here = band.transport.ticks_at(band.now_ns)
        if band.receiver.heard[1:]:
            assert 0 <= here / 40 - band.receiver.heard[-1][1] <= 1.001


@pytest.mark.parametrize("pulses", [1, 5, MOST_OVERDUE - 1])
def test_after_a_short_stall_what_is_due_is_sent_at_once(pulses):
    band = Band(120.0)
    band.start()
    band.to(SECOND)
    before = len(band.receiver.heard)
    band.now_ns = SECOND + round((pulses + 0.5) * SECOND / 48)
    assert [data for _, data in band.take()] == [b"\xf8"] * pulses
    assert len(band.receiver.heard) == before + pulses
    band.check_places()


def test_after_a_long_stall_receivers_are_sent_to_where_we_are():
    band = Band(120.0)
    band.start()
    band.to(SECOND)
    band.now_ns = 6 * SECOND + 30 * MS  # 12.06 beats
    assert [data for _, data in band.take()] == [b"\xfc", b"\xf2\x31\x00", b"\xfb"]
    band.to(8 * SECOND)
    assert band.receiver.clocks == 16 * 24 + 1
    band.check_places()


def test_a_stall_while_stopped_is_passed_over():
    band = Band(120.0)
    band.to(SECOND)
    band.now_ns = 10 * SECOND
    assert band.take() == []
    band.to(11 * SECOND)
    assert len(band.receiver.idle) in range(94, 98)


def test_silence_is_silence_until_the_next_question():
    band = Band(120.0)
    band.start()
    band.leader.silence()
    assert not band.leader.leads
    band.transport.stop(SECOND)
    assert band.leader.stop(SECOND) == []
