"""A reader who knows only what was stated is never off by more than the tolerance at a beat."""

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from live.clock.tempo_line import TOLERANCE_NS, TempoLine

MS = 1_000_000


class Reader:
    """Knows the start and what was stated; statements may come late, stamped when they began."""

    def __init__(self, at_ns, ticks, tempo_bpm):
        self.start = (at_ns, ticks, tempo_bpm)
        self.stated = []

    def off_ns(self, at_ns, ticks):
        """How far off it puts the ticks, in ns, by the tempo that led to the moment."""
        from_ns, believed, tempo_bpm = self.start
        for stamp_ns, next_bpm in sorted(self.stated, key=lambda s: s[0]):
            if stamp_ns >= at_ns:
                break
            believed += (stamp_ns - from_ns) * tempo_bpm * 960 / 60e9
            from_ns, tempo_bpm = stamp_ns, next_bpm
        believed += (at_ns - from_ns) * tempo_bpm * 960 / 60e9
        return abs(believed - ticks) / 960 * 60e9 / tempo_bpm


def follow(beats, start_bpm, estimates):
    """Beats as times in ns, one tick line of 960 each; returns the reader and statements."""
    line, reader = TempoLine(), Reader(beats[0], 0.0, start_bpm)
    line.begin(beats[0], 0.0, start_bpm)
    for number, at_ns in enumerate(beats[1:], 1):
        reader.stated += line.beat(at_ns, 960 * number, estimates[number])
    return reader


def off_ns(reader, beats):
    """How far the reader is off at each beat that was left behind, in ns."""
    return [reader.off_ns(at_ns, 960 * number) for number, at_ns in enumerate(beats)]


def test_a_steady_tempo_as_stated_needs_no_statement():
    beats = [number * 500 * MS for number in range(1000)]
    reader = follow(beats, 120.0, [120.0] * 1000)
    assert reader.stated == []


def test_a_tempo_a_little_off_is_corrected_when_it_shows():
    beats = [round(number * 60e9 / 120.09) for number in range(1200)]  # ten minutes
    reader = follow(beats, 120.0, [120.09] * 1200)
    assert len(reader.stated) == 2  # the beat that has passed, and what goes on
    assert max(off_ns(reader, beats)) <= TOLERANCE_NS + 10


def test_a_start_at_the_wrong_tempo_is_right_from_its_first_beat():
    beats = [number * 500 * MS for number in range(20)]
    reader = follow(beats, 168.0, [120.0] * 20)
    assert max(off_ns(reader, beats)) < 1000
    assert reader.stated[0] == (1, pytest.approx(120.0, rel=1e-8))


@settings(deadline=None)
@given(st.integers(0, 10**6), st.floats(0, 3), st.lists(st.floats(60, 200), min_size=1, max_size=6))
def test_trembling_beats_and_changing_tempos_stay_within_the_tolerance(seed, jitter_ms, tempos):
    rng = random.Random(seed)
    beats, at_ns = [0], 0.0
    for tempo_bpm in tempos:
        for _ in range(20):
            at_ns += 60e9 / tempo_bpm
            beats.append(round(at_ns + rng.gauss(0, jitter_ms) * MS))
    estimates = [tempos[0]] + [rng.choice(tempos) for _ in beats]
    reader = follow(beats, tempos[0], estimates)
    assert max(off_ns(reader, beats)) <= TOLERANCE_NS + 10


def test_a_beat_that_comes_twice_or_an_impossible_tempo_is_not_stated():
    line = TempoLine()
    line.begin(0, 0.0, 120.0)
    assert line.beat(500 * MS, 960, 120.0) == []
    assert line.beat(530 * MS, 960, 118.0) == [(530 * MS, 118.0)]  # no ticks passed
    assert line.beat(531 * MS, 1920, 118.0) == [(531 * MS, 118.0)]  # 60000 BPM
    assert line.beat(400 * MS, 2880, 118.0) == [(400 * MS, 118.0)]  # time ran back


def test_it_can_begin_anywhere():
    line = TempoLine()
    line.begin(10**12, 1234.5, 90.0)
    beat_ns = 10**12 + round((1920 - 1234.5) * 60e9 / (90 * 960))
    assert line.beat(beat_ns, 1920, 90.0) == []
