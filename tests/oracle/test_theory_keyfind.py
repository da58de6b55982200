"""Key finding on tunes that nothing was learned from, beside music21's own finder."""

from __future__ import annotations

import pytest
from music21 import analysis, note, stream

from live.theory.keyfind import find_piece_key
from tests.oneills import judging_tunes


def music21_key(notes):
    """(tonic, minor) by correlation with Krumhansl & Kessler 1982."""
    made = stream.Stream()
    for onset, length, pitch in notes:
        one = note.Note(pitch)
        one.quarterLength = length
        made.insert(onset, one)
    found = analysis.discrete.KrumhanslSchmuckler(made).getSolution(made)
    return found.tonic.pitchClass, found.mode == "minor"


@pytest.fixture(scope="module")
def found():
    """Per tune: our (tonic, minor), music21's, the printed one."""
    rows = []
    for key, notes in judging_tunes(every=20, first=10):
        ours = find_piece_key(notes)[0][0]
        printed = key.tonic_pc, key.scale.is_minor
        rows.append(((ours.tonic_pc, ours.scale.is_minor), music21_key(notes), printed))
    return rows


def test_whole_tunes(found):
    # 97.9 % of all 1,601 such tunes (docs/theory.md).
    assert len(found) >= 60
    assert sum(ours == printed for ours, _, printed in found) >= 0.95 * len(found)


def test_better_than_correlation_with_krumhansl_kessler(found):
    right = sum(ours == printed for ours, _, printed in found)
    theirs = sum(other == printed for _, other, printed in found)
    assert 0 < theirs < right
