"""Spelling of real tunes: Bach's own names in the chorales that ship with music21."""

from __future__ import annotations

import pytest
from music21 import corpus

from live.theory.keys import Key
from live.theory.pitch import parse_spelling
from live.theory.scales import find_scale
from live.theory.travel import ways_on

CHORALES = (121, 160)
"""Riemenschneider numbers, both included; the rule was chosen on 1 to 120."""

MIN_RIGHT_OUTSIDE = {"major": 0.85, "minor": 0.97}
"""Share of the notes outside the key; chorales change key, and names then follow the new one."""


@pytest.fixture(scope="module")
def notes():
    """(key, way on, MIDI note, Bach's name) of every note."""
    rows = []
    for score in list(corpus.chorales.Iterator(*CHORALES)):
        signature = next(iter(score.recurse().getElementsByClass("Key")), None)
        if signature is None or signature.mode not in MIN_RIGHT_OUTSIDE:
            continue
        tonic = parse_spelling(signature.tonic.name.replace("-", "b"))
        key = Key(tonic, find_scale(signature.mode))
        for part in score.parts:
            pitches = [n.pitch for n in part.stripTies().flatten().notes if hasattr(n, "pitch")]
            ways = ways_on([("part", place, pitch.midi) for place, pitch in enumerate(pitches)])
            for pitch, way in zip(pitches, ways, strict=True):
                rows.append((key, way, pitch.midi, pitch.name.replace("-", "b")))
    return rows


@pytest.mark.parametrize("mode", MIN_RIGHT_OUTSIDE)
def test_notes_outside_the_key_by_the_way_they_move(notes, mode):
    outside = [row for row in notes if not row[0].contains(row[2]) and row[0].scale.name == mode]
    right = sum(key.spell(note, way).name == name for key, way, note, name in outside)
    plain = sum(key.spell(note).name == name for key, _, note, name in outside)
    assert len(outside) > 150
    assert right / len(outside) >= MIN_RIGHT_OUTSIDE[mode]
    assert right > plain


def test_notes_of_the_key(notes):
    inside = [row for row in notes if row[0].contains(row[2])]
    wrong = [row for row in inside if row[0].spell(row[2], row[1]).name != row[3]]
    assert len(inside) > 5000
    assert len(wrong) <= len(inside) * 0.001
