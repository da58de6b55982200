from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.theory.chord_roots import SHAPES, SpanNote, evidence, rank_roots
from live.theory.errors import FieldError
from live.theory.root_table import WEIGHTS

NOTES = st.lists(
    st.builds(SpanNote, st.integers(-2, 3), st.integers(1, 4), st.integers(24, 96)),
    min_size=1,
    max_size=12,
).filter(lambda notes: any(note.start_beats + note.length_beats > 0 for note in notes))


@pytest.mark.parametrize("intervals", [(0, 4, 7), (0, 3, 7), (0, 4, 7, 10), (0, 3, 7, 10)])
def test_a_held_chord_has_its_root(intervals):
    for root in range(12):
        guesses = rank_roots([SpanNote(0, 4, 48 + root + step) for step in intervals], 4)
        assert guesses[0].pitch_class == root
        assert sum(guess.probability for guess in guesses) == pytest.approx(1)


def test_passing_notes_do_not_move_the_root():
    held = [SpanNote(0, 4, pitch) for pitch in (38, 57, 65)]
    passing = [SpanNote(0, 1, 74), SpanNote(1, 0.5, 76), SpanNote(1.5, 0.5, 77)]
    assert rank_roots([*held, *passing], 4)[0].pitch_class == 2


@given(NOTES, st.integers(-12, 12))
def test_transposition_commutes(notes, by):
    here = sorted(rank_roots(notes, 4))
    there = rank_roots([note._replace(pitch=note.pitch + by) for note in notes], 4)
    moved = sorted(((pc - by) % 12, likely) for pc, likely in there)
    assert [pc for pc, _ in here] == [pc for pc, _ in moved]
    assert [p for _, p in here] == pytest.approx([p for _, p in moved])


def test_what_is_weighed():
    # Struck before the span, cut off at both ends; the bass is the lowest at the start.
    notes = [SpanNote(-1, 2, 60), SpanNote(1, 9, 40), SpanNote(4, 1, 41)]
    share, present, start, bass, end = evidence(notes, 4)
    assert (share[0], share[4]) == (0.25, 0.75)
    assert (present[0], present[4], sum(present)) == (1, 1, 2)
    assert (start[0], sum(start)) == (1, 1)
    assert (bass[0], sum(bass)) == (1, 1)
    assert (end[4], sum(end)) == (1, 1)


@pytest.mark.parametrize(
    ("notes", "length"),
    [([], 4), ([SpanNote(4, 1, 60)], 4), ([SpanNote(0, 1, 60)], 0), ([SpanNote(0, 1, 60)], -1)],
)
def test_a_silent_or_empty_span_is_refused(notes, length):
    with pytest.raises(FieldError, match=r"^span"):
        rank_roots(notes, length)


def test_the_table_has_a_weight_for_everything():
    assert [len(row) for row in WEIGHTS] == [12] * 5 + [len(SHAPES)] * 2
