"""Spelling of scales on every tonic against music21."""

from __future__ import annotations

import pytest
from music21 import key as m21_key
from music21 import pitch, scale
from music21.scale import Direction

from live.theory.keys import Key
from live.theory.pitch import frequency_hz, note_name, octave_of, parse_spelling
from live.theory.scales import find_scale

TONICS = [letter + sign for letter in "CDEFGAB" for sign in ("", "#", "b")]

DIATONIC = {
    "major": scale.MajorScale,
    "dorian": scale.DorianScale,
    "phrygian": scale.PhrygianScale,
    "lydian": scale.LydianScale,
    "mixolydian": scale.MixolydianScale,
    "minor": scale.MinorScale,
    "locrian": scale.LocrianScale,
    "harmonic minor": scale.HarmonicMinorScale,
    "melodic minor": scale.MelodicMinorScale,
}
MODES = {
    scale.HarmonicMinorScale: (
        *("harmonic minor", "locrian natural 6", "ionian augmented", "dorian #4"),
        *("phrygian dominant", "lydian #2", "ultralocrian"),
    ),
    scale.MelodicMinorScale: (
        *("melodic minor", "dorian b2", "lydian augmented", "lydian dominant"),
        *("mixolydian b6", "locrian natural 2", "altered"),
    ),
}


def ours(key):
    return [key.spell(key.tonic_pc + step).name for step in key.scale.steps]


def theirs(made):
    pitches = made.getPitches(direction=Direction.ASCENDING)
    return [found.name.replace("-", "b") for found in pitches[:7]]


@pytest.mark.parametrize("name", DIATONIC)
def test_scales_on_every_tonic(name):
    for tonic in TONICS:
        key = Key(parse_spelling(tonic), find_scale(name))
        made = DIATONIC[name](tonic.replace("b", "-"))
        assert ours(key) == theirs(made), key.name


@pytest.mark.parametrize(
    ("parent", "degree"), [(parent, degree) for parent in MODES for degree in range(1, 8)]
)
def test_modes_of_the_minor_scales_spell_as_their_parent(parent, degree):
    checked = 0
    for tonic in TONICS:
        names = theirs(parent(tonic.replace("b", "-")))
        rotated = names[degree - 1 :] + names[: degree - 1]
        if len(rotated[0]) > 2:
            continue  # the mode would start on a double accidental: no key of ours
        key = Key(parse_spelling(rotated[0]), find_scale(MODES[parent][degree - 1]))
        assert ours(key) == rotated, key.name
        checked += 1
    assert checked >= 15


@pytest.mark.parametrize("sharps", range(-7, 8))
def test_signatures(sharps):
    for name in ("major", "minor"):
        made = m21_key.KeySignature(sharps).asKey(name)
        tonic = parse_spelling(made.tonic.name.replace("-", "b"))
        assert Key(tonic, find_scale(name)).signature == (sharps, name == "minor")


def test_octaves_and_frequencies_of_every_note():
    for tonic in TONICS:
        spelling = parse_spelling(tonic)
        for midi in range(spelling.pitch_class, 128, 12):
            found = pitch.Pitch(tonic.replace("b", "-"))
            found.octave = octave_of(midi, spelling)
            assert found.midi == midi or found.ps == midi
            # music21 writes flats and octaves below nought differently, so compare the parts.
            assert note_name(midi, spelling) == f"{tonic}{found.octave}"
            assert frequency_hz(midi) == pytest.approx(found.frequency, rel=1e-9)
