"""In which octave a call is heard: worked out by hand, and for any line."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.answer.compose import compose
from live.answer.octaves import in_reach
from live.answer.scene import Scene
from live.notes.phrase import Brief, Call, PhraseNote
from live.theory.keys import parse_key
from tests.answer.calls import RIFF, brief

D_MINOR = parse_key("D minor")


def line(*pitches: int, is_bass: bool = False) -> Call:
    played = tuple(PhraseNote(480 * at, 240, pitch, 90) for at, pitch in enumerate(pitches))
    return Call(played, 2, is_bass=is_bass)


def heard(call: Call, *, low: int = 28, high: int = 55) -> list[int]:
    made = Brief(call, D_MINOR, low=low, high=high)
    return [note.pitch for note in in_reach(made).call.notes]


@pytest.mark.parametrize("is_bass", [True, False])
@pytest.mark.parametrize(
    ("played", "wanted"),
    [
        ((38, 41, 36, 33), (38, 41, 36, 33)),  # within E1 to G3: as it is
        ((26, 29, 24, 26), (38, 41, 36, 38)),  # a sub bass: up an octave
        ((26, 26, 33, 33), (38, 38, 45, 45)),  # half of it below, none above
        ((26, 38, 50, 41), (26, 38, 50, 41)),  # most of it lies within already
        ((0, 1, 2), (36, 37, 38)),
    ],
)
def test_a_bass_line_is_heard_in_the_octaves_of_the_answer(
    played: tuple[int, ...], wanted: tuple[int, ...], *, is_bass: bool
) -> None:
    assert heard(line(*played, is_bass=is_bass)) == list(wanted)


@pytest.mark.parametrize(
    ("played", "wanted"),
    [
        ((62, 65, 69, 62), (38, 41, 45, 38)),  # two octaves down all of it lies within
        ((127, 126), (55, 54)),
    ],
)
def test_from_above_only_what_is_played_as_a_bass_line(
    played: tuple[int, ...], wanted: tuple[int, ...]
) -> None:
    assert heard(line(*played, is_bass=True)) == list(wanted)
    assert heard(line(*played)) == list(played)


def test_a_line_wider_than_the_range_is_folded_note_by_note() -> None:
    # An octave's range, and a line that leaps about: wherever it is put, most lies outside.
    assert heard(line(40, 64, 16, 88, is_bass=True), low=40, high=52) == [40, 52, 40, 52]


def test_an_empty_call_stays_empty() -> None:
    assert heard(line(is_bass=True)) == []


@given(
    st.lists(st.integers(0, 127), min_size=1, max_size=12),
    st.integers(0, 115),
    st.integers(12, 60),
)
def test_any_bass_line_is_answered_in_kind(pitches: list[int], low: int, width: int) -> None:
    high = min(low + width, 127)
    made = in_reach(Brief(line(*pitches, is_bass=True), D_MINOR, low=low, high=high))
    moved = [note.pitch for note in made.call.notes]
    assert 2 * sum(low <= pitch <= high for pitch in moved) > len(moved)
    assert [pitch % 12 for pitch in moved] == [pitch % 12 for pitch in pitches]
    assert all(0 <= pitch <= 127 for pitch in moved)
    assert Scene(made).in_kind


def test_a_sub_bass_is_answered_like_the_same_line_an_octave_up() -> None:
    def down(semitones: int) -> Brief:
        moved = tuple(replace(note, pitch=note.pitch - semitones) for note in RIFF)
        return brief(moved, low=28, high=55)

    bass, sub = down(24), down(36)
    assert min(note.pitch for note in sub.call.notes) == 24  # C1, below the range
    assert [choice.notes for choice in compose(sub)] == [choice.notes for choice in compose(bass)]
