from __future__ import annotations

from itertools import combinations

import pytest

from live.theory.errors import FieldError
from live.theory.pitch_sets import forte_number, interval_vector, normal_form, prime_form

SETS = [notes for size in range(1, 13) for notes in combinations(range(12), size)]


def test_transposing_changes_nothing_and_mirroring_only_the_letter():
    other = {"A": "B", "B": "A"}
    for notes in SETS:
        number, vector = forte_number(notes), interval_vector(notes)
        up = [note + 7 for note in notes]
        mirror = [-note for note in notes]
        assert normal_form(up) == normal_form(notes)
        assert forte_number(up) == number
        assert prime_form(mirror) == prime_form(notes)
        assert forte_number(mirror) == number[:-1] + other.get(number[-1], number[-1])
        assert interval_vector(mirror) == interval_vector(up) == vector
        assert sum(vector) == len(notes) * (len(notes) - 1) // 2


def test_a_set_and_its_complement():
    # Forte 1973: complements carry the same number; 7-35 is what 5-35 leaves. Two sets of six
    # notes that complement each other have the same interval vector.
    for notes in SETS:
        rest = set(range(12)) - set(notes)
        if len(notes) == 6:
            assert interval_vector(rest) == interval_vector(notes)
        elif 3 <= len(notes) <= 9:
            assert _place(rest) == _place(notes)


def _place(notes):
    return forte_number(notes).split("-")[1].strip("AB")


@pytest.mark.parametrize(
    ("notes", "number", "prime", "vector"),
    # Forte 1973, appendix 1: the major triad, the two all-interval tetrachords, a Z pair of six.
    [
        ((0, 4, 7), "3-11B", (0, 3, 7), (0, 0, 1, 1, 1, 0)),
        ((60, 63, 67, 72), "3-11A", (0, 3, 7), (0, 0, 1, 1, 1, 0)),
        ((0, 1, 4, 6), "4-15A", (0, 1, 4, 6), (1, 1, 1, 1, 1, 1)),
        ((0, 1, 3, 7), "4-29A", (0, 1, 3, 7), (1, 1, 1, 1, 1, 1)),
        ((0, 1, 2, 3, 5, 6), "6-3A", (0, 1, 2, 3, 5, 6), (4, 3, 3, 2, 2, 1)),
        ((0, 1, 2, 3, 4, 7), "6-36A", (0, 1, 2, 3, 4, 7), (4, 3, 3, 2, 2, 1)),
    ],
)
def test_known_sets(notes, number, prime, vector):
    assert forte_number(notes) == number
    assert prime_form(notes) == prime
    assert interval_vector(notes) == vector


def test_nothing_has_no_form():
    for ask in (normal_form, prime_form, forte_number, interval_vector):
        with pytest.raises(FieldError, match="at least one"):
            ask([])
