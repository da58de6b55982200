from __future__ import annotations

import pytest

from live.theory.errors import FieldError
from live.theory.keys import Key, parse_key
from live.theory.pitch import Spelling
from live.theory.pitch_space import MAX_DEPTH, chord_distance, depths
from live.theory.scales import SCALES

DEGREES = range(1, 8)


def test_distances_from_the_tonic_chord():
    # Lerdahl 2001, Tonal Pitch Space, chapter 2: from I to ii 8, iii 7, IV 5, V 5, vi 7, vii 8.
    assert [chord_distance(1, degree) for degree in DEGREES] == [0, 8, 7, 5, 5, 7, 8]


def test_the_matrix_is_symmetric_and_the_same_from_every_degree():
    # Lerdahl 2001: distances within a key do not change under diatonic transposition.
    row = [chord_distance(1, degree) for degree in DEGREES]
    for first in DEGREES:
        for second in DEGREES:
            assert chord_distance(first, second) == chord_distance(second, first)
            assert chord_distance(first, second) == row[(second - first) % 7]


@pytest.mark.parametrize("degree", [0, 8, -1])
def test_a_degree_that_is_none(degree):
    with pytest.raises(FieldError, match="1 to 7"):
        chord_distance(1, degree)
    with pytest.raises(FieldError, match="1 to 7"):
        chord_distance(degree, 1)


def test_the_basic_space_of_c():
    # Lerdahl 2001, figure 2.4: levels octave, fifth, triad, scale, chromatic.
    assert depths(parse_key("C major")) == (0, 4, 3, 4, 2, 3, 4, 1, 4, 3, 4, 3)
    assert depths(parse_key("C minor")) == (0, 4, 3, 2, 4, 3, 4, 1, 3, 4, 3, 4)


@pytest.mark.parametrize("scale", SCALES, ids=lambda scale: scale.name)
def test_every_key_has_its_tonic_at_the_top_and_the_rest_below(scale):
    home = depths(Key(Spelling(0), scale))
    for fifths in range(-5, 7):
        key = Key(Spelling(fifths), scale)
        found = depths(key)
        assert found.count(0) == 1
        assert found == tuple(home[(note - key.tonic_pc) % 12] for note in range(12))
        assert all((found[note] == MAX_DEPTH) != key.contains(note) for note in range(12))
