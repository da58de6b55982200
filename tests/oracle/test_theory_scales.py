"""Scales against music21 (pitch-class sets, its scale classes) and the Scala scale archive."""

from __future__ import annotations

import pytest
from music21 import chord, scale
from music21.scale import Direction
from music21.scale.scala import parse as parse_scala

from live.theory.scales import SCALES, find_scale

# Forte numbers (Forte 1973, The Structure of Atonal Music) and interval vectors, by family.
FAMILIES = {
    ("7-35", "254361"): (
        *("ionian", "dorian", "phrygian", "lydian", "mixolydian", "aeolian", "locrian"),
    ),
    ("7-32A", "335442"): ("harmonic minor", "phrygian dominant"),
    ("7-32B", "335442"): ("harmonic major",),
    ("7-34", "254442"): (
        *("melodic minor", "dorian b2", "lydian augmented", "lydian dominant"),
        *("mixolydian b6", "locrian natural 2", "altered"),
    ),
    ("7-22", "424542"): ("double harmonic", "hungarian minor"),
    ("7-30A", "343542"): ("neapolitan minor",),
    ("7-33", "262623"): ("neapolitan major",),
    ("5-35", "032140"): ("major pentatonic", "minor pentatonic"),
    ("6-47B", "233241"): ("blues hexatonic minor", "blues hexatonic major"),
    ("5-20B", "211231"): ("hirajoshi", "iwato"),
    ("5-29B", "122131"): ("in-sen",),
    ("6-35", "060603"): ("whole tone",),
    ("8-28", "448444"): ("octatonic half whole", "octatonic whole half"),
    ("6-20", "303630"): ("hexatonic",),
}
ROWS = [(name, *family) for family, names in FAMILIES.items() for name in names]

# The same table, pitch classes in base twelve (t = 10, e = 11).
PITCH_CLASSES = {
    "ionian": "024579e",
    "dorian": "023579t",
    "phrygian": "013578t",
    "lydian": "024679e",
    "mixolydian": "024579t",
    "aeolian": "023578t",
    "locrian": "013568t",
    "harmonic minor": "023578e",
    "phrygian dominant": "014578t",
    "harmonic major": "024578e",
    "melodic minor": "023579e",
    "dorian b2": "013579t",
    "lydian augmented": "024689e",
    "lydian dominant": "024679t",
    "mixolydian b6": "024578t",
    "locrian natural 2": "023568t",
    "altered": "013468t",
    "double harmonic": "014578e",
    "hungarian minor": "023678e",
    "neapolitan minor": "013578e",
    "neapolitan major": "013579e",
    "major pentatonic": "02479",
    "minor pentatonic": "0357t",
    "blues hexatonic minor": "03567t",
    "blues hexatonic major": "023479",
    "hirajoshi": "02378",
    "iwato": "0156t",
    "in-sen": "0157t",
    "whole tone": "02468t",
    "octatonic half whole": "0134679t",
    "octatonic whole half": "0235689e",
    "hexatonic": "03478e",
}


@pytest.mark.parametrize(("name", "written"), PITCH_CLASSES.items())
def test_pitch_classes(name, written):
    assert find_scale(name).steps == tuple("0123456789te".index(sign) for sign in written)


@pytest.mark.parametrize(("name", "forte", "vector"), ROWS)
def test_forte_number_and_interval_vector(name, forte, vector):
    found = chord.Chord(list(find_scale(name).steps))
    assert found.forteClass == forte
    assert "".join(map(str, found.intervalVector)) == vector


def test_the_two_tables_cover_the_same_scales():
    assert {name for name, *_ in ROWS} == set(PITCH_CLASSES)


@pytest.mark.parametrize(
    ("name", "made"),
    [
        ("major", scale.MajorScale("C")),
        ("minor", scale.MinorScale("C")),
        ("dorian", scale.DorianScale("C")),
        ("phrygian", scale.PhrygianScale("C")),
        ("lydian", scale.LydianScale("C")),
        ("mixolydian", scale.MixolydianScale("C")),
        ("locrian", scale.LocrianScale("C")),
        ("harmonic minor", scale.HarmonicMinorScale("C")),
        ("melodic minor", scale.MelodicMinorScale("C")),
        ("whole tone", scale.WholeToneScale("C")),
        ("octatonic whole half", scale.OctatonicScale("C")),
        ("chromatic", scale.ChromaticScale("C")),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_steps_of_the_scale_classes(name, made):
    pitches = made.getPitches("C4", "B4", direction=Direction.ASCENDING)
    assert find_scale(name).steps == tuple(sorted({pitch.midi - 60 for pitch in pitches}))


@pytest.mark.parametrize(
    ("name", "file"),
    # Scala scale archive, as shipped with music21, rounded to semitones.
    [
        ("hirajoshi", "hirajoshi2.scl"),  # Helmholtz/Ellis p. 519, no. 110
        ("prometheus", "mystic.scl"),  # Skriabin's mystic chord, op. 60
        ("hexatonic", "augmented.scl"),
        ("double harmonic", "arist_chrom.scl"),  # Byzantine liturgical, 2nd chromatic
        ("phrygian", "arist_syndiat.scl"),  # Aristoxenos, diatonon syntonon
        ("chromatic", "neidhardt4.scl"),
    ],
)
def test_steps_in_the_scala_archive(name, file):
    cents = parse_scala(file).getCentsAboveTonic()
    assert find_scale(name).steps == tuple(sorted({0, *(round(step / 100) % 12 for step in cents)}))


# The scale dictionary of Tonal (github.com/tonaljs/tonal, packages/scale-type/data.ts at commit
# 0546cd14, MIT), its intervals as pitch classes. Its name stands in the comment where it differs.
DICTIONARY = {
    "locrian natural 6": "013569t",
    "ionian augmented": "024589e",
    "dorian #4": "023679t",
    "lydian #2": "034679e",  # lydian #9
    "ultralocrian": "0134689",
    "lydian b3": "023679e",  # lydian diminished
    "hungarian major": "034679t",
    "persian": "014568e",
    "oriental": "014569t",
    "enigmatic": "01468te",
    "major locrian": "024568t",  # locrian major
    "leading whole tone": "02468te",
    "suspended pentatonic": "0257t",  # egyptian
    "man gong": "0358t",  # malkos raga
    "ritusen": "02579",
    "hirajoshi": "02378",
    "kumoi": "02379",
    "in": "01578",  # kumoijoshi
    "pelog": "01378",
    "prometheus": "02469t",
    "bebop dominant": "024579te",  # bebop
    "bebop major": "0245789e",
    "bebop dorian": "0234579t",  # bebop minor
    "bebop melodic minor": "0235789e",  # minor six diminished
    "messiaen mode 3": "0234678te",
    "messiaen mode 4": "0125678e",
    "messiaen mode 5": "01567e",
    "messiaen mode 6": "024568te",
    "messiaen mode 7": "012356789e",
}


@pytest.mark.parametrize(("name", "written"), DICTIONARY.items())
def test_pitch_classes_in_a_public_dictionary(name, written):
    assert find_scale(name).steps == tuple("0123456789te".index(sign) for sign in written)


def test_the_tritone_scale_is_two_major_triads_a_tritone_apart():
    # The Petrushka chord: C and F sharp major together (Stravinsky 1911, from memory).
    triads = {0, 4, 7} | {6, 10, 1}
    assert find_scale("tritone scale").steps == tuple(sorted(triads))


def test_every_scale_is_checked_here_or_as_a_mode():
    modes = ("dorian b5", "phrygian b4", "mixolydian b2", "lydian augmented #2", "locrian bb7")
    named = {*PITCH_CLASSES, *DICTIONARY, *modes, "tritone scale", "chromatic"}
    assert {find_scale(name).name for name in named} == {found.name for found in SCALES}
