"""Roman numerals in every key against music21.roman."""

from __future__ import annotations

import pytest
from music21 import key as m21_key
from music21 import roman

from live.theory.keys import Key
from live.theory.pitch import parse_spelling
from live.theory.progressions import parse_progression
from live.theory.scales import find_scale

MAJOR_FIGURES = (
    *("I", "ii", "iii", "IV", "V", "vi", "viio", "ii7", "V7", "viiø7", "viio7"),
    *(
        "II",
        "III",
        "VI",
        "VII",
        "i",
        "iv",
        "v",
        "bII",
        "bIII",
        "bVI",
        "bVII",
        "#ivo",
        "#io",
        "III+",
    ),
)
# Left out by name, where our written convention differs: music21 counts bIII, bVI and bVII from
# the lowered degree of a minor key (Bbb in D minor), puts vi and vii on the raised degrees, raises
# #vi and #vii once more, and reads a 7 after vi or vii likewise.
MINOR_FIGURES = (
    *("i", "iio", "III", "iv", "v", "VI", "VII", "V", "V7", "IV", "I", "ii", "iiø7", "i7", "iv7"),
    *("vio", "viio", "viio7", "viiø7", "bII", "#ivo", "III+", "VI7", "VII7"),
)
# Chord symbols say dominant seventh where music21 takes the seventh from the key: VI7 in D minor is
# Bb7 with us, Bbmaj7 there.
SEVENTH_FROM_THE_KEY = {"VI7": "VImaj7"}


def tonics(mode):
    for sharps in range(-7, 8):
        yield m21_key.KeySignature(sharps).asKey(mode)


@pytest.mark.parametrize(
    ("mode", "figure"),
    [
        *[("major", figure) for figure in MAJOR_FIGURES],
        *[("minor", figure) for figure in MINOR_FIGURES],
    ],
)
def test_chords_of_numerals_in_every_key(mode, figure):
    for made in tonics(mode):
        key = Key(parse_spelling(made.tonic.name.replace("-", "b")), find_scale(mode))
        found = roman.RomanNumeral(figure, made)
        written = SEVENTH_FROM_THE_KEY.get(figure, figure)
        chord = parse_progression(written, key).stretches[0].chord
        assert chord.pitch_classes == {pitch.pitchClass for pitch in found.pitches}, key.name
        root = found.root().name.replace("-", "b")
        if "bb" not in root:  # we write a root with a double flat plainly
            assert chord.root.name == root, key.name
