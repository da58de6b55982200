from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.theory.errors import FieldError
from live.theory.keyfind import confidence, find_piece_key


def test_there_are_24_keys_in_the_spelling_of_the_trade():
    # Circle of fifths: the signatures with at most six sharps or flats (common practice).
    names = {key.name for key, _ in find_piece_key([])}
    majors = ["Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#"]
    minors = ["Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#", "G#"]
    assert names == {f"{t} major" for t in majors} | {f"{t} minor" for t in minors}


PIECES = st.lists(
    st.tuples(st.integers(0, 64).map(lambda n: n / 4), st.floats(0, 8), st.integers(24, 100)),
    max_size=30,
)


def named(ranked):
    return {(key.tonic_pc, key.scale.name): share for key, share in ranked}


def test_a_piece_without_notes_is_in_no_key():
    assert [share for _, share in find_piece_key([])] == pytest.approx([1 / 24] * 24)


def test_one_note_is_not_called_certain():
    ranked = find_piece_key([(0.0, 1.0, 62)])
    assert ranked[0][0].tonic_pc == 2
    assert 1 / 24 < confidence(ranked) < 0.5


def test_night_ferry_as_a_piece_is_in_d_minor():
    # Four bars that end on v leave B flat major open; once it has come home there is no doubt.
    chords = ((50, 62, 65, 69), (46, 62, 65, 70), (43, 62, 67, 70), (45, 64, 69, 72))
    bars = [*chords, *chords, chords[0]]
    notes = [(4.0 * bar, 4.0, pitch) for bar, chord in enumerate(bars) for pitch in chord]
    assert find_piece_key(notes)[0][0].name == "D minor"


def test_the_end_decides_between_relatives():
    # The white keys evenly, once up to C and once down to A (common practice, no source).
    white = [60, 62, 64, 65, 67, 69, 71]
    up = [*white, 72]
    down = [69, 71, 72, 74, 76, 77, 79, 81, 69]
    for pitches, name in ((up, "C major"), (down, "A minor")):
        notes = [(float(at), 1.0, pitch) for at, pitch in enumerate(pitches)]
        assert find_piece_key(notes)[0][0].name == name


@given(PIECES)
def test_a_piece_has_every_key_and_all_chances(notes):
    shares = [share for _, share in find_piece_key(notes)]
    assert math.fsum(shares) == pytest.approx(1.0)
    assert shares == sorted(shares, reverse=True)
    assert len(shares) == 24


@given(PIECES, st.integers(-12, 12))
def test_a_transposed_piece_is_in_the_transposed_key(notes, shift):
    moved = [(onset, length, pitch + shift) for onset, length, pitch in notes]
    plain = named(find_piece_key(notes))
    for (tonic, mode), share in named(find_piece_key(moved)).items():
        assert share == pytest.approx(plain[((tonic - shift) % 12, mode)], abs=1e-9)


@given(PIECES, st.randoms(use_true_random=False))
def test_the_order_of_the_list_does_not_matter(notes, rng):
    mixed = list(notes)
    rng.shuffle(mixed)
    assert named(find_piece_key(mixed)) == pytest.approx(named(find_piece_key(notes)))


@pytest.mark.parametrize(
    ("bad", "field"),
    [
        ((math.nan, 1.0, 60), "note onset"),
        ((0.0, -1.0, 60), "note length"),
        ((0.0, math.inf, 60), "note length"),
    ],
)
def test_onsets_and_lengths_are_checked(bad, field):
    with pytest.raises(FieldError, match=field):
        find_piece_key([(0.0, 1.0, 62), bad])
