"""What was heard against what was due: planted delays, losses and jitter come out as planted."""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.faces.check_timing import Timing, clock_jitter, flood_losses, lateness

MS = 1_000_000
# At 125 BPM a beat lasts 480 ms, so a clock pulse comes every 20 ms (MIDI 1.0: 24 to the beat).
TEMPO, STEP_NS = 125.0, 20 * MS


def note(number: int) -> bytes:
    return bytes((0x90, number % 128, 80))


def test_each_note_is_late_by_what_it_was_late():
    due = [(k * 100 * MS, note(k)) for k in range(5)]
    delays = [3 * MS, 0, 7 * MS, 1, 250 * MS]
    heard = [(at + d, data) for (at, data), d in zip(due, delays, strict=True)]
    assert lateness(due, heard) == Timing(tuple(delays), 0)


def test_a_note_that_did_not_come_is_lost_and_moves_none_of_the_others():
    due = [(k * 100 * MS, note(k)) for k in range(9)]
    heard = [(at + MS, data) for k, (at, data) in enumerate(due) if k not in (0, 4, 8)]
    found = lateness(due, heard)
    assert found.lost == 3
    assert len(found.off_ns) == 6


def test_what_comes_a_second_late_is_another_note():
    due = [(0, note(1)), (5000 * MS, note(1))]
    assert lateness(due, [(5002 * MS, note(1))]) == Timing((2 * MS,), 1)


def test_what_is_heard_besides_is_passed_over():
    heard = [(MS, b"\xfe"), (2 * MS, note(1)), (3 * MS, note(9))]
    assert lateness([(0, note(1))], heard) == Timing((2 * MS,), 0)
    assert lateness([], heard) == Timing((), 0)


def pulses(count: int, off_ns: dict[int, int] | None = None) -> list[tuple[int, bytes]]:
    moved = off_ns or {}
    return [(777 + k * STEP_NS + moved.get(k, 0), b"\xf8") for k in range(count)]


def test_an_even_clock_has_no_jitter_however_late_it_is():
    found = clock_jitter([(0, b"\xfa"), *pulses(100)], TEMPO)
    assert found == Timing((0,) * 100, 0)


def test_pulses_before_the_start_do_not_count():
    before = [(k * MS, b"\xf8") for k in range(10)]
    assert clock_jitter(before, TEMPO) == Timing((), 0)
    start = [*before, (20 * MS, b"\xfa")]
    later = [(at + 21 * MS, data) for at, data in pulses(48)]
    assert clock_jitter([*start, *later], TEMPO) == Timing((0,) * 48, 0)


def test_jitter_that_was_planted_is_found():
    planted = {10: 4 * MS, 20: -3 * MS}
    found = clock_jitter([(0, b"\xfa"), *pulses(50, planted)], TEMPO)
    assert {k: off for k, off in enumerate(found.off_ns) if off} == {10: 4 * MS, 20: 3 * MS}


def test_a_pulse_later_than_half_a_step_is_late_and_not_lost():
    planted = {10: 15 * MS, 11: 9 * MS}
    found = clock_jitter([(0, b"\xfa"), *pulses(50, planted)], TEMPO)
    assert {k: off for k, off in enumerate(found.off_ns) if off} == planted
    assert found.lost == 0


def test_pulses_that_are_missing_are_counted():
    some = [one for k, one in enumerate(pulses(50)) if k not in (7, 8, 30)]
    found = clock_jitter([(0, b"\xfa"), *some], TEMPO)
    assert found == Timing((0,) * 47, 3)


@given(st.lists(st.integers(0, 5), max_size=30), st.data())
def test_flood_counts_by_brute_force(numbers, data):
    sent = [note(n) for n in numbers]
    dropped = data.draw(st.sets(st.integers(0, max(len(sent) - 1, 0))))
    came = [one for k, one in enumerate(sent) if k not in dropped]
    lost, moved = flood_losses(sent, came)
    assert lost == len(sent) - len(came)
    # With messages that are all different, what was not moved is never counted as moved.
    if len(set(sent)) == len(sent):
        assert moved == 0


@pytest.mark.parametrize("seed", range(5))
def test_messages_that_changed_places_are_counted(seed):
    sent = [bytes((0x90, a, b)) for a in range(10) for b in range(1, 10)]
    came = sent.copy()
    first, second = random.Random(seed).sample(range(len(sent)), 2)
    came[first], came[second] = came[second], came[first]
    assert flood_losses(sent, came) == (0, 2)
