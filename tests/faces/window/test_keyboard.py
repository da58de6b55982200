"""The keyboard's shape. Sources: common practice; C4 = 60 as everywhere in this project."""

from __future__ import annotations

import itertools

from hypothesis import given
from hypothesis import strategies as st

from live.faces.window.keyboard import USUAL_LOW, is_black, key_at, keys, octaves_for, shift


def test_black_keys_are_the_sharps_of_c_d_f_g_a() -> None:
    assert [note for note in range(60, 72) if is_black(note)] == [61, 63, 66, 68, 70]


def test_five_octaves_have_36_white_and_25_black_keys_from_c_to_c() -> None:
    boxes = keys(24, 5, 720.0, 90.0)
    whites = [box for box in boxes if not box.black]
    assert (len(whites), len(boxes) - len(whites)) == (36, 25)
    assert (whites[0].note, whites[-1].note) == (24, 84)


@given(st.integers(2, 8), st.floats(300, 3000), st.floats(40, 400))
def test_white_keys_fill_the_width_without_gaps_and_black_ones_lie_between(
    octaves: int, width: float, height: float
) -> None:
    boxes = keys(24, octaves, width, height)
    whites = {box.note: box for box in boxes if not box.black}
    ordered = [whites[note] for note in sorted(whites)]
    assert ordered[0].x == 0
    for left, right in itertools.pairwise(ordered):
        assert abs(left.x + left.width - right.x) < 1e-6
    assert abs(ordered[-1].x + ordered[-1].width - width) < 1e-6
    blacks = [box for box in boxes if box.black]
    assert len(blacks) == 5 * octaves
    for black in blacks:
        seam = whites[black.note + 1].x
        assert black.x < seam < black.x + black.width
        assert black.height < height


@given(st.integers(0, 100), st.lists(st.integers(0, 127), max_size=4))
def test_shift_moves_by_octaves_and_shows_the_highest_note(place: int, notes: list[int]) -> None:
    low = 12 * (place // 12)
    moved = shift(low, 3, notes)
    assert moved % 12 == 0
    assert 0 <= moved <= 120
    if notes:
        assert max(notes) <= moved + 36
    if all(low <= note <= low + 36 for note in notes):
        assert moved == low


@given(st.lists(st.integers(0, 127), min_size=1, max_size=1), st.integers(2, 8))
def test_one_note_is_always_brought_into_sight(notes: list[int], octaves: int) -> None:
    low = shift(USUAL_LOW, octaves, notes)
    assert notes[0] in {box.note for box in keys(low, octaves, 700.0, 80.0)}


def test_the_usual_range_holds_the_bass_range_and_the_melody_above() -> None:
    shown = {box.note for box in keys(USUAL_LOW, 5, 720.0, 90.0)}
    assert set(range(28, 85)) <= shown  # E1 to C6


def test_key_at_finds_black_keys_on_top_and_white_ones_below() -> None:
    boxes = keys(24, 5, 720.0, 90.0)
    black = next(box for box in boxes if box.note == 61)
    middle = black.x + black.width / 2
    assert key_at(boxes, middle, 10.0) == 61
    assert key_at(boxes, middle + 1, 85.0) in (60, 62)
    assert key_at(boxes, -1.0, 10.0) is None


def test_octaves_grow_with_the_width() -> None:
    assert [octaves_for(width, 18.0) for width in (100, 456, 724, 5000)] == [2, 3, 5, 8]
