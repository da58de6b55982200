"""Every pitch-class set against music21's tables (Forte 1973, The Structure of Atonal Music)."""

from __future__ import annotations

from itertools import combinations

import pytest
from music21 import chord

from live.theory.pitch_sets import forte_number, interval_vector, normal_form, prime_form
from live.theory.scales import SCALES


@pytest.mark.parametrize("size", range(1, 13))
def test_every_set_in_normal_form(size):
    # 351 sets; the mirror test of tests/theory shows that transposing changes nothing.
    checked = 0
    for others in combinations(range(1, 12), size - 1):
        notes = (0, *others)
        if normal_form(notes) != notes:
            continue
        found = chord.Chord(notes)
        assert prime_form(notes) == tuple(found.primeForm), notes
        assert forte_number(notes) == found.forteClass, notes
        assert list(interval_vector(notes)) == found.intervalVector, notes
        checked += 1
    assert checked >= 1


def test_the_set_table_holds_every_class_of_up_to_six_notes():
    # Forte 1973: 12, 29, 38 and 50 classes of 3, 4, 5 and 6 notes.
    for size, count in ((2, 6), (3, 12), (4, 29), (5, 38), (6, 50)):
        classes = {prime_form((0, *more)) for more in combinations(range(1, 12), size - 1)}
        assert len(classes) == count
        assert len({forte_number(form) for form in classes}) == count


@pytest.mark.parametrize("scale", SCALES, ids=lambda scale: scale.name)
def test_scales_know_their_set(scale):
    found = chord.Chord(list(scale.steps))
    assert scale.forte == found.forteClass
    assert list(scale.interval_vector) == found.intervalVector
