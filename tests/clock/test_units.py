from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.clock import units
from live.clock.units import beats_to_ticks, ns_to_ticks, ticks_to_beats, ticks_to_ns

tempos = st.floats(units.MIN_TEMPO_BPM, units.MAX_TEMPO_BPM)


def test_a_quarter_note_holds_24_clocks_and_a_sixteenth_6():
    # MIDI 1.0 Detailed Specification 4.2.1, "Timing Clock" (24 per quarter note) and "Song
    # Position Pointer" (1 MIDI beat = 6 MIDI clocks = a sixteenth).
    assert units.CLOCKS_PER_BEAT == 24
    assert units.CLOCKS_PER_SIXTEENTH == 6
    assert units.TICKS_PER_CLOCK * 24 == units.TICKS_PER_BEAT
    assert units.TICKS_PER_CLOCK * 6 == units.TICKS_PER_SIXTEENTH


@pytest.mark.parametrize("parts", [2, 3, 4, 5, 6, 8, 10, 12, 15, 16, 20, 24, 32])
def test_the_parts_of_a_beat_are_whole_ticks(parts):
    assert units.TICKS_PER_BEAT % parts == 0


@given(st.integers(0, 10**9), tempos)
def test_ticks_become_nanoseconds_to_the_nearest(ticks, tempo_bpm):
    exact = Fraction(ticks) * 60 * 10**9 / (Fraction(tempo_bpm) * 960)
    assert abs(ticks_to_ns(ticks, tempo_bpm) - exact) <= max(Fraction(1, 2), exact / 10**15) * 2


@given(st.integers(0, 10**8), tempos)
def test_there_and_back(ticks, tempo_bpm):
    assert round(ns_to_ticks(ticks_to_ns(ticks, tempo_bpm), tempo_bpm)) == ticks


@given(st.integers(0, 10**7))
def test_beats_and_ticks(ticks):
    assert beats_to_ticks(ticks_to_beats(ticks)) == ticks
    assert beats_to_ticks(Fraction(ticks, 960)) == ticks


def test_beats_round_to_the_nearest_tick():
    assert beats_to_ticks(Fraction(1, 3)) == 320
    assert beats_to_ticks(0.0006) == 1


@given(st.integers(1, 0xFFFFFF))
def test_a_tempo_of_a_file_becomes_the_same_beat_again(us):
    """RP-001, FF 51: microseconds in a quarter note, three bytes."""
    tempo_bpm = units.file_tempo_bpm(us)
    assert units.beat_us(tempo_bpm) == us
    assert abs(tempo_bpm * us / 60e6 - 1) < 1e-3


def test_round_tempos_are_read_as_they_were_meant():
    for tempo_bpm in range(20, 401):
        us = units.beat_us(tempo_bpm)
        assert us is not None
        assert units.file_tempo_bpm(us) == tempo_bpm
    assert units.file_tempo_bpm(0xFFFFFF) == pytest.approx(3.576279, abs=1e-6)


@pytest.mark.parametrize("tempo_bpm", [0, -1, 3.5762, 60_000_001, float("nan"), float("inf")])
def test_what_a_file_cannot_hold_is_no_beat(tempo_bpm):
    assert units.beat_us(tempo_bpm) is None
