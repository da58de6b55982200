from __future__ import annotations

import pytest

from live.theory.chord_table import QUALITIES
from live.theory.chords import chord_on, parse_chord
from live.theory.keys import Key, parse_key
from live.theory.numerals import numeral_chord, numeral_of
from live.theory.pitch import Spelling
from live.theory.scales import find_scale


# Common practice, no source.
@pytest.mark.parametrize(
    ("key", "chord", "text", "kind"),
    [
        ("C major", "G7", "V7", "own"),
        ("C major", "Bm7b5", "viiø7", "own"),
        ("C major", "Bb", "bVII", "borrowed"),
        ("C major", "Ab", "bVI", "borrowed"),
        ("C major", "Fm", "iv", "borrowed"),
        ("C major", "Db", "bII", "borrowed"),
        ("C major", "Bdim7", "vii°7", "borrowed"),
        ("C major", "D7", "V7/V", "secondary"),
        ("C major", "A7", "V7/ii", "secondary"),
        ("C major", "E", "V/vi", "secondary"),
        ("C major", "C7", "V7/IV", "secondary"),
        ("C major", "F#dim7", "vii°7/V", "secondary"),
        ("C major", "F#m", "#iv", "outside"),
        ("D minor", "Bb", "VI", "own"),
        ("D minor", "A7", "V7", "own"),
        ("D minor", "C#dim7", "vii°7", "own"),
        ("D minor", "G", "IV", "borrowed"),
        ("D minor", "Eb", "bII", "borrowed"),
        ("D minor", "D7", "V7/iv", "secondary"),
        ("D minor", "F7", "V7/VI", "secondary"),
        ("D minor", "E7", "V7/V", "secondary"),
        ("D minor", "D5", "i5", "own"),
        ("D minor", "Dm(add9)(no5)", "i(add9)(no5)", "own"),
        ("D minor", "Dm/F", "i", "own"),
    ],
)
def test_a_chord_in_the_key(key, chord, text, kind):
    found = numeral_of(parse_chord(chord), parse_key(key))
    assert (found.text, found.kind) == (text, kind)


@pytest.mark.parametrize("scale", ["major", "minor", "dorian", "harmonic minor", "blues"])
def test_numerals_read_back(scale):
    for tonic in (0, -3, 6):
        key = Key(Spelling(tonic), find_scale(scale))
        for suffix in QUALITIES:
            for root in range(-5, 7):
                chord = chord_on(Spelling(root), suffix)
                back = numeral_chord(numeral_of(chord, key).text, key)
                assert (back.root_pc, back.suffix) == (chord.root_pc, suffix), key.name
