"""Scale degrees of every note on every tonic against music21."""

from __future__ import annotations

import pytest
from music21 import pitch, scale

from live.theory.degrees import degree_of
from live.theory.keys import Key, degree_spelling
from live.theory.pitch import parse_spelling
from live.theory.scales import find_scale

TONICS = [letter + sign for letter in "CDEFGAB" for sign in ("", "#", "b")]
SCALES = {
    "major": scale.MajorScale,
    "dorian": scale.DorianScale,
    "phrygian": scale.PhrygianScale,
    "lydian": scale.LydianScale,
    "mixolydian": scale.MixolydianScale,
    "minor": scale.MinorScale,
    "locrian": scale.LocrianScale,
    "harmonic minor": scale.HarmonicMinorScale,
}
MAX_ALTER = 2
"""Notes that would need three accidentals in the key are left out; `checked` counts the rest."""


@pytest.mark.parametrize("name", SCALES)
def test_place_and_accidental_of_every_note(name):
    checked = 0
    for tonic in TONICS:
        key = Key(parse_spelling(tonic), find_scale(name))
        made = SCALES[name](tonic.replace("b", "-"))
        for step in range(12):
            degree = degree_of(key.tonic_pc + step, key)
            spelling = degree_spelling(key.tonic, degree.number, degree.alter)
            if abs(spelling.alter) > MAX_ALTER:
                continue
            number, accidental = made.getScaleDegreeAndAccidentalFromPitch(
                pitch.Pitch(spelling.name.replace("b", "-"))
            )
            alter = 0 if accidental is None else int(accidental.alter)
            assert (degree.scale_number, degree.scale_alter) == (number, alter), (key, step)
            checked += 1
    assert checked >= 15 * 12
