import random
import statistics
from itertools import pairwise

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from live.clock.tap import LONGEST_GAP_NS, MOST_TAPS, SHORTEST_GAP_NS, TapTempo

MS = 1_000_000
SECOND = 1_000_000_000


def tap_all(taps, times_ns):
    tempo_bpm = None
    for at_ns in times_ns:
        tempo_bpm = taps.tap(round(at_ns))
    return tempo_bpm


@given(st.floats(20, 400), st.integers(2, 40), st.integers(0, 10**15))
def test_steady_taps_give_their_tempo(tempo_bpm, count, start_ns):
    taps = TapTempo()
    read = tap_all(taps, [start_ns + n * 60e9 / tempo_bpm for n in range(count)])
    assert read == pytest.approx(tempo_bpm, rel=1e-7)
    assert taps.taps == min(count, MOST_TAPS)


def test_one_tap_is_no_tempo():
    taps = TapTempo()
    assert taps.taps == 0
    assert taps.tap(5) is None
    assert taps.taps == 1


@given(st.floats(40, 240), st.lists(st.integers(1, 14), max_size=4, unique=True))
def test_a_missed_tap_changes_nothing(tempo_bpm, missed):
    """But for the first two, before which nothing is known, and gaps that are a new beginning."""
    beats = [n for n in range(16) if n not in missed or n == 1]
    gaps = [b - a for a, b in pairwise(beats)]
    assume(max(gaps) * 60e9 / tempo_bpm <= LONGEST_GAP_NS)
    read = tap_all(TapTempo(), [n * 60e9 / tempo_bpm for n in beats])
    assert read == pytest.approx(tempo_bpm, rel=1e-6)


def test_after_a_silence_a_first_tap_is_a_first_tap():
    taps = TapTempo()
    tap_all(taps, [0, SECOND, 2 * SECOND])
    assert taps.tap(2 * SECOND + LONGEST_GAP_NS + MS) is None
    assert taps.taps == 1


def test_a_bounce_is_no_tap():
    taps = TapTempo()
    assert tap_all(taps, [0, 10 * MS]) is None
    assert tap_all(taps, [SECOND // 2, SECOND // 2 + SHORTEST_GAP_NS - MS]) == pytest.approx(120)
    assert taps.taps == 2


@pytest.mark.parametrize(("before", "after"), [(120, 171), (171, 120), (90, 143), (174, 260)])
def test_a_new_tempo_is_taken_up_with_its_second_gap(before, after):
    taps = TapTempo()
    tap_all(taps, [n * 60e9 / before for n in range(8)])
    start_ns = 7 * 60e9 / before
    read = tap_all(taps, [start_ns + n * 60e9 / after for n in (1, 2, 3)])
    assert read == pytest.approx(after, rel=1e-6)


def test_trembling_taps_are_read_better_than_by_their_last_gap():
    """Least squares over n taps that tremble by S: the beat trembles by S * sqrt(12 / n^3)."""
    rng = random.Random(1)
    errors, naive = [], []
    for _ in range(300):
        times = [n * 60e9 / 172 + rng.gauss(0, 10) * MS for n in range(8)]
        errors.append(tap_all(TapTempo(), times) - 172)
        naive.append(60e9 / (times[-1] - times[-2]) - 172)
    bound_bpm = 172 * (10 / (60e3 / 172)) * (12 / 8**3) ** 0.5
    assert statistics.pstdev(errors) < 1.25 * bound_bpm
    assert statistics.pstdev(errors) < statistics.pstdev(naive) / 4
    assert abs(statistics.mean(errors)) < 4 * bound_bpm / 300**0.5


@given(st.lists(st.integers(0, 5 * SECOND), max_size=60))
def test_any_taps_give_a_tempo_in_range_or_none(gaps):
    taps, at_ns = TapTempo(), 0
    for gap_ns in gaps:
        at_ns += gap_ns
        tempo_bpm = taps.tap(at_ns)
        assert tempo_bpm is None or 20 <= tempo_bpm <= 400
        assert (tempo_bpm is None) == (taps.taps < 2)
