"""Clock time to ticks. The arithmetic is the definition of tempo: at 120 a beat is 0.5 s."""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.clock.metre import parse_metre
from live.takes.take import Take, TakeInfo
from live.takes.ticks import tick_map
from tests.takes.streams import SECOND, fact, note, on, start

S = SECOND


def take(*records, metre="4/4", tempo=120.0, end_s=100.0):
    info = TakeInfo(1, "2031-05-17 21:04:33", 1.0, 1, 0, 0, "", tempo)
    return Take(info, parse_metre(metre), records[0].at_ns, round(end_s * S), tuple(records))


def ticks_of(one, *at_s):
    ticks = tick_map(one)
    return [ticks.ticks_at(round(second * S)) for second in at_s]


def test_from_the_start_on_a_beat_is_960_ticks():
    one = take(start(10, tempo=120.0))
    assert ticks_of(one, 10, 10.5, 12, 9.75) == [0, 960, 3840, -480]
    assert tick_map(one).tempos(one.end_ns) == ((0, 120.0),)
    assert tick_map(one).first_bar == 0


def test_a_start_within_the_song_counts_from_its_own_bar():
    one = take(start(10, bar=56, beat=2.5))
    assert ticks_of(one, 10, 10.75) == [2400, 3840]
    assert tick_map(one).first_bar == 56


def test_the_beat_of_a_start_is_the_metres_own():
    assert ticks_of(take(start(10, beat=5.0, metre="7/8"), metre="7/8"), 10) == [5 * 480]


def test_without_a_start_the_first_note_is_on_a_bar_line():
    one = take(fact(3, "key", key="C"), *note(4, 1), *note(6, 1), tempo=60.0)
    assert ticks_of(one, 4, 5, 6.5) == [0, 960, 2400]
    assert tick_map(one).first_bar is None


def test_a_tempo_change_bends_without_a_jump():
    one = take(start(0, tempo=120.0), fact(2, "tempo", tempo=60.0), fact(4, "tempo", tempo=240.0))
    assert ticks_of(one, 1, 2, 3, 4, 5) == [1920, 3840, 4800, 5760, 9600]
    assert tick_map(one).tempos(one.end_ns) == ((0, 120.0), (3840, 60.0), (5760, 240.0))


def test_tempo_changes_that_change_nothing_or_cannot_be_are_left_out():
    one = take(
        start(0, tempo=120.0),
        fact(1, "tempo", tempo=120.0),
        fact(2, "tempo", tempo=0),
        fact(3, "tempo", tempo=float("nan")),
        fact(4, "tempo"),
    )
    assert tick_map(one).tempos(one.end_ns) == ((0, 120.0),)


def test_the_last_of_several_tempi_on_one_tick_counts():
    one = take(
        start(0, tempo=120.0),
        fact(1, "tempo", tempo=130.0),
        fact(1.00001, "tempo", tempo=140.0),
        fact(2, "tempo", tempo=90.0),
    )
    tempos = [tempo for _, tempo in tick_map(one).tempos(one.end_ns)]
    assert tempos == pytest.approx([120.0, 140.0, 90.0], abs=0.001)


def test_a_tempo_taken_back_on_the_same_tick_is_no_change():
    one = take(
        start(0, tempo=120.0), fact(1, "tempo", tempo=130.0), fact(1.00001, "tempo", tempo=120.0)
    )
    assert tick_map(one).tempos(one.end_ns) == ((0, 120.0),)


@pytest.mark.parametrize("drift_s", [0.02, -0.02])
def test_a_followed_clock_that_drifts_is_put_right_at_the_bar_lines_it_states(drift_s):
    """Eight bars last 16 s at 120; the clock says they took a little more or less."""
    one = take(
        start(0, tempo=120.0),
        fact(16 + drift_s, "call", number=1, bar=8),
        fact(32 + 2 * drift_s, "answer", number=1, bar=16),
    )
    assert ticks_of(one, 0, 8 + drift_s / 2, 16 + drift_s) == [0, 4 * 3840, 8 * 3840]
    assert ticks_of(one, 32 + 2 * drift_s) == [16 * 3840]
    expected = pytest.approx(120 * 16 / (16 + drift_s), abs=0.001)
    assert tick_map(one).tempos(one.end_ns)[0][1] == expected


def test_after_a_long_silence_a_larger_drift_is_believed():
    """Ten minutes at 120.09 noted as 120 (the engine notes changes above 0.1) are 450 ms."""
    at_s = 300 * 4 * 60 / 120.09
    one = take(start(0, tempo=120.0), fact(at_s, "call", number=1, bar=300))
    assert ticks_of(one, at_s) == [300 * 3840]


def test_the_lateness_of_a_stamp_is_not_taken_for_drift():
    one = take(start(0, tempo=120.0), fact(16.004, "call", number=1, bar=8))
    assert tick_map(one).tempos(one.end_ns) == ((0, 120.0),)


def test_a_stated_bar_line_that_cannot_be_is_not_believed():
    records = (
        fact(5, "call", number=1, bar=8),
        fact(6, "call", number=1),
        fact(7, "call", bar="x"),
    )
    one = take(start(0, tempo=120.0), *records)
    assert tick_map(one).tempos(one.end_ns) == ((0, 120.0),)


def test_without_a_transport_no_bar_line_is_believed():
    assert ticks_of(take(on(4), fact(6.02, "call", number=1, bar=1)), 8) == [7680]


@given(
    st.lists(st.tuples(st.floats(0.01, 20), st.floats(20, 400)), max_size=12),
    st.lists(st.floats(0, 200), min_size=2, max_size=10),
)
def test_time_never_runs_backwards_and_agrees_with_plain_integration(changes, moments_s):
    at_s, records, steps = 0.0, [start(0, tempo=120.0)], [(0.0, 120.0)]
    for gap_s, tempo in changes:
        at_s += gap_s
        records.append(fact(at_s, "tempo", tempo=tempo))
        steps.append((round(at_s * S) / S, tempo))
    moments_s.sort()
    found = ticks_of(take(*records), *moments_s)
    assert found == sorted(found)
    for moment_s, ticks in zip(moments_s, found, strict=True):
        ends = [step[0] for step in steps[1:]] + [float("inf")]
        beats = sum(
            max(0.0, min(moment_s, end) - begin) * tempo / 60
            for (begin, tempo), end in zip(steps, ends, strict=True)
        )
        assert abs(ticks - beats * 960) <= 1


def _jittery(tempo_bpm: float, beats: int, seed: int, spread_bpm: float = 1.5):
    """What is noted while a steady clock is followed: estimates that come and go about it."""
    chance, tempo = random.Random(seed), tempo_bpm + spread_bpm
    records, at_s = [start(0, tempo=tempo)], 0.0
    for beat in range(1, beats):
        at_s += 60 / tempo
        # Each estimate leads back to where the clock is, as the follower's do.
        ahead_s = beat * 60 / tempo_bpm - at_s
        tempo = 60 / (60 / tempo_bpm + ahead_s + chance.uniform(-0.003, 0.003))
        records.append(fact(at_s, "tempo", tempo=tempo))
    return take(*records, end_s=at_s + 60 / tempo)


@pytest.mark.parametrize("tempo_bpm", [172.0, 168.0, 174.5])
@pytest.mark.parametrize("seed", range(5))
def test_a_steady_clock_that_was_followed_gives_one_round_tempo(tempo_bpm, seed):
    one = _jittery(tempo_bpm, 64, seed)
    assert len(tick_map(one).stretches) == 64
    assert tick_map(one).tempos(one.end_ns) == ((0, tempo_bpm),)


@pytest.mark.parametrize("seed", range(5))
def test_no_change_of_tempo_is_misplaced_by_more_than_five_milliseconds(seed):
    chance = random.Random(seed)
    facts = [fact(at, "tempo", tempo=chance.uniform(165, 175)) for at in range(1, 90)]
    one = take(start(0, tempo=170.0), *facts)
    ticks = tick_map(one)
    tempos = ticks.tempos(one.end_ns)
    assert len(tempos) < len(facts)

    def seconds_at(wanted: float) -> float:
        """Where a reader of the file finds a tick."""
        at_s, before, tempo = 0.0, 0, tempos[0][1]
        for tick, changed in tempos[1:]:
            if tick >= wanted:
                break
            at_s += (tick - before) / 960 * 60 / tempo
            before, tempo = tick, changed
        return at_s + (wanted - before) / 960 * 60 / tempo

    for stretch in ticks.stretches:
        assert seconds_at(stretch.from_ticks) == pytest.approx(stretch.from_ns / 1e9, abs=0.0055)
