"""The pulse's policy on hand-driven time. That a real server's death shows is in test_rt.py."""

from __future__ import annotations

import pytest

from live.clock.manual import ManualClock
from live.ports.pulse import (
    AGAIN_AFTER_NS,
    END_OF_SYSEX,
    LOST_AFTER_NS,
    MOST_AGAIN,
    PULSE,
    STUCK_AFTER_NS,
    Pulse,
    ended,
)

MS = 1_000_000
BEAT_NS = 20 * MS


class Way:
    """An inlet and the outlet joined to it; the service between them can fail."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.pulses = 0
        self.ends_due = 0
        self.sent: list[bytes] = []
        self.dead = False
        self.in_sysex = False

    def send_raw(self, data: bytes) -> None:
        self.sent.append(data)
        if self.dead:
            return
        if data == END_OF_SYSEX:
            self.in_sysex = False
        elif not self.in_sysex:
            self.pulses += 1

    def send(self, data: bytes) -> None:
        raise AssertionError("a pulse is no whole message")

    def close(self) -> None:
        pass


class Service:
    name = "fake"
    has_virtual_ports = True

    def __init__(self, *ways: Way) -> None:
        self.ways = {way.name: way for way in ways}

    def open_output(self, name, *, virtual):
        assert not virtual
        return self.ways[name]


@pytest.fixture
def ways() -> tuple[Way, Way]:
    return Way("keys in"), Way("clock in")


@pytest.fixture
def pulse(ways: tuple[Way, Way]) -> Pulse:
    return Pulse(Service(*ways), list(ways))


def beat_for(pulse: Pulse, clock: ManualClock, length_ns: int) -> bool:
    """Beat until `length_ns` are over; the last answer."""
    end_ns = clock.now_ns() + length_ns
    alive = True
    while clock.now_ns() < end_ns:
        clock.advance(BEAT_NS)
        alive = pulse.lives(clock.now_ns())
    return alive


def test_a_service_that_answers_lives(pulse, clock, ways):
    assert beat_for(pulse, clock, 10 * STUCK_AFTER_NS)
    assert pulse.unstuck == 0
    assert set(ways[0].sent) == {PULSE}


def test_a_dead_service_is_noticed_in_time_and_sent_nothing_more(pulse, clock, ways):
    assert beat_for(pulse, clock, 100 * MS)
    for way in ways:
        way.dead = True
        way.sent.clear()
    assert beat_for(pulse, clock, LOST_AFTER_NS - BEAT_NS)
    assert not beat_for(pulse, clock, 2 * BEAT_NS)
    assert not beat_for(pulse, clock, 60_000 * MS)
    # A few each on their way at most: the ring of 16384 bytes never fills, so nothing can hang.
    assert [len(way.sent) for way in ways] == [1 + MOST_AGAIN] * 2


def test_pulses_that_got_lost_are_no_death(pulse, clock, ways):
    """A busy server drops events: both pulses at once, and all is well again afterwards."""
    assert beat_for(pulse, clock, 100 * MS)
    for way in ways:
        way.dead = True
    beat_for(pulse, clock, 2 * BEAT_NS)
    for way in ways:
        way.dead = False
    beat_for(pulse, clock, AGAIN_AFTER_NS)
    assert beat_for(pulse, clock, 10 * STUCK_AFTER_NS)
    assert pulse.unstuck == 0


@pytest.mark.parametrize(
    ("data", "rest"),
    [
        (b"\xf7", b""),
        (b"\xf0\x01\xfd\xfd\x02\xf7", b"\xf0\x01\x02\xf7"),
        (b"\x90\x3c\x40", None),
        (b"\xf8", None),
    ],
)
def test_an_end_of_ours_is_not_taken_for_the_player_s(data, rest):
    assert ended(data) == rest


def test_a_hiccup_is_no_death(pulse, clock, ways):
    for way in ways:
        way.dead = True
    assert beat_for(pulse, clock, LOST_AFTER_NS - 2 * BEAT_NS)
    for way in ways:
        way.dead = False
        way.pulses += 1  # the one that was on its way arrives
    assert beat_for(pulse, clock, 10 * LOST_AFTER_NS)


def test_one_input_with_an_unended_sysex_is_freed(pulse, clock, ways):
    ways[0].in_sysex = True
    assert beat_for(pulse, clock, STUCK_AFTER_NS - BEAT_NS)
    assert END_OF_SYSEX not in ways[0].sent
    assert beat_for(pulse, clock, 3 * BEAT_NS)
    assert ways[0].sent.count(END_OF_SYSEX) == 1
    assert not ways[0].in_sysex
    assert END_OF_SYSEX not in ways[1].sent
    assert (ways[0].ends_due, ways[1].ends_due) == (1, 0)
    assert pulse.unstuck == 1
    assert beat_for(pulse, clock, 10 * STUCK_AFTER_NS)
    assert pulse.unstuck == 1


def test_a_process_that_stood_still_looks_again_before_it_calls_the_service_dead(clock):
    class Slow(Way):
        """Its pulses are back, but the thread that counts them has not run yet."""

        def send_raw(self, data: bytes) -> None:
            self.sent.append(data)

    slow = Slow("keys in")
    pulse = Pulse(Service(slow), [slow])
    assert pulse.lives(clock.now_ns())
    clock.advance(5_000 * MS)
    assert pulse.lives(clock.now_ns())
    slow.pulses += 1
    clock.advance(BEAT_NS)
    assert pulse.lives(clock.now_ns())


def test_two_inputs_that_fail_at_different_times_are_told_apart(pulse, clock, ways):
    ways[0].dead = True
    assert beat_for(pulse, clock, STUCK_AFTER_NS // 2)
    ways[1].dead = True
    assert not beat_for(pulse, clock, LOST_AFTER_NS + 2 * BEAT_NS)
