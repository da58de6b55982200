"""Key finding on tunes that nothing was learned from, beside music21's own finder.

Source: O'Neill's Music of Ireland (1850 tunes), in ABC, as music21 carries it: the key is what its
K: field says. Every 20th tune of the file order, from the 10th on, if it is in major or minor, has
16 notes or more and ends on its tonic.
"""

from __future__ import annotations

import re
from pathlib import Path

import music21
import pytest
from music21 import analysis, note, stream

from live.theory.keyfind import find_piece_key
from live.theory.keys import parse_key
from tests.study.key_corpus import LEAST_NOTES, read_tune

FOLDER = Path(music21.__file__).parent / "corpus" / "oneills1850"
EVERY, FROM = 20, 10
MODES = {"": "major", "m": "minor"}


def tunes():
    """(key, [(onset, length, pitch)]) of the sample; a mode of its own is left out."""
    texts = [
        text
        for file in sorted(FOLDER.glob("*.abc"))
        for text in re.split(r"(?m)^(?=X: ?\d)", file.read_text(encoding="utf-8", errors="replace"))
        if "K:" in text
    ]
    for text in texts[FROM::EVERY]:
        found = re.search(r"(?m)^K: *([A-G][#b]?) *([A-Za-z]*)", text)
        if found is None or found[2] not in MODES:
            continue
        key = parse_key(f"{found[1]} {MODES[found[2]]}")
        notes = sorted(row[:3] for row in read_tune(text))
        if len(notes) >= LEAST_NOTES and notes[-1][2] % 12 == key.tonic_pc:
            yield key, notes


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
    for key, notes in tunes():
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
