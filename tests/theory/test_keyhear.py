from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.theory.keyhear import (
    GAP_GAIN,
    LONG_GAP,
    MOST_GAPS,
    SHAPES,
    Sounding,
    is_leap,
    is_struck_anew,
    phrase_begins,
    shape_of,
)
from live.theory.pitch import mask_of


def mask(root, steps):
    return sum(1 << (root + step) % 12 for step in steps)


@pytest.mark.parametrize("root", range(12))
@pytest.mark.parametrize(("steps", "shape"), SHAPES)
def test_every_shape_is_found_on_every_root(steps, shape, root):
    # With the root in the bass it is itself, also where another root has the same notes.
    assert shape_of(mask(root, steps), root) == (root, shape)


@given(st.integers(1, 4095), st.integers(0, 11), st.integers(0, 11))
def test_a_transposed_chord_has_the_transposed_root(sounding, low, shift):
    moved = sum(1 << (pc + shift) % 12 for pc in range(12) if sounding >> pc & 1)
    root, shape = shape_of(sounding, low)
    assert shape_of(moved, (low + shift) % 12) == ((root + shift) % 12, shape)


def test_a_missing_fifth_does_not_hide_the_chord():
    assert shape_of(mask(2, (0, 3, 10)), 2) == (2, 5)


def test_the_first_gap_begins_no_phrase_and_is_the_mean():
    assert phrase_begins(0.5, 0.0) == (False, 0.5)


@given(st.floats(0.01, 10), st.floats(0.01, 10))
def test_a_long_gap_begins_a_phrase(gap, mean):
    begins, after = phrase_begins(gap, mean)
    assert begins == (gap > LONG_GAP * mean)
    assert after == pytest.approx(mean + GAP_GAIN * (min(gap, MOST_GAPS * mean) - mean))


@given(st.sets(st.integers(0, 127)), st.sets(st.integers(0, 127), min_size=1))
def test_a_chord_is_struck_when_more_than_half_of_it_is(struck, held):
    sounding = struck | held
    now, all_now = ({pitch % 12 for pitch in pitches} for pitches in (struck, sounding))
    assert is_struck_anew(mask_of(struck), mask_of(sounding)) == (len(now) > len(all_now) / 2)


def test_one_voice_that_moves_under_three_that_stay_passes():
    assert not is_struck_anew(mask_of([59]), mask_of([59, 64, 67, 72]))
    assert is_struck_anew(mask_of([59, 62, 67]), mask_of([59, 62, 67, 72]))


@given(st.integers(0, 127), st.integers(0, 127))
def test_a_leap_is_wider_than_a_whole_tone_and_no_octave(before, now):
    assert is_leap(before, now) == (abs(now - before) not in {0, 1, 2, *range(12, 128, 12)})


@given(st.lists(st.tuples(st.sampled_from(["begin", "strike", "release"]), st.integers(40, 60))))
def test_what_sounds_and_what_was_struck_of_it(done):
    sounding, notes, struck = Sounding(), set(), set()
    for act, pitch in done:
        if act == "begin":
            sounding.begin()
            struck.clear()
        elif act == "release":
            sounding.release(pitch)
            notes.discard(pitch)
        else:
            sounding.strike(pitch)
            notes.add(pitch)
            struck.add(pitch)
            assert (sounding.low, sounding.top) == (min(notes), max(notes))
            assert (sounding.struck, sounding.sounding) == (mask_of(struck), mask_of(notes))
            assert all(sounding.is_struck(note) == (note in struck) for note in notes)
