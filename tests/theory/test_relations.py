from __future__ import annotations

import pytest

from live.theory.keys import Key, parse_key
from live.theory.pitch import Spelling
from live.theory.relations import modes_of, parallel, relative, relatives
from live.theory.scales import SCALES, find_scale

EVERY_SCALE = pytest.mark.parametrize("scale", SCALES, ids=lambda scale: scale.name)


@pytest.mark.parametrize(
    ("parent", "names"),
    # The order of the modes: common practice, no source.
    [
        ("major", "major, dorian, phrygian, lydian, mixolydian, minor, locrian"),
        (
            "harmonic minor",
            (
                "harmonic minor, locrian natural 6, ionian augmented, dorian #4, phrygian dominant,"
                " lydian #2, ultralocrian"
            ),
        ),
        (
            "melodic minor",
            (
                "melodic minor, dorian b2, lydian augmented, lydian dominant, mixolydian b6, "
                "locrian natural 2, altered"
            ),
        ),
        (
            "harmonic major",
            (
                "harmonic major, dorian b5, phrygian b4, lydian b3, mixolydian b2, "
                "lydian augmented #2, locrian bb7"
            ),
        ),
        (
            "major pentatonic",
            "major pentatonic, suspended pentatonic, man gong, ritusen, minor pentatonic",
        ),
        ("whole tone", ", ".join(["whole tone"] * 6)),
    ],
)
def test_modes(parent, names):
    assert ", ".join(mode.name for mode in modes_of(find_scale(parent))) == names


def test_a_mode_without_a_name_is_called_by_its_place():
    assert modes_of(find_scale("persian"))[1].name == "mode 2 of persian"


@EVERY_SCALE
def test_modes_have_the_same_notes_and_the_same_set(scale):
    for place, mode in enumerate(modes_of(scale)):
        start = scale.steps[place]
        assert {(start + step) % 12 for step in mode.steps} == set(scale.steps)
        assert mode.forte == scale.forte
        assert mode.interval_vector == scale.interval_vector


@EVERY_SCALE
def test_relatives_share_every_note(scale):
    for fifths in range(-7, 8):
        key = Key(Spelling(fifths), scale)
        found = relatives(key)
        assert found[0] == key
        assert [other.tonic_pc for other in found] == [
            (key.tonic_pc + step) % 12 for step in scale.steps
        ]
        for other in found:
            assert other.pitch_classes == key.pitch_classes
            assert parse_key(other.name) == other  # one accidental at most, and a name that reads


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("C major", "A minor"),
        ("D minor", "F major"),
        ("F# minor", "A major"),
        ("Gb minor", "A major"),  # B double flat is never a tonic
        ("Cb major", "Ab minor"),
        ("D dorian", "C major"),
        ("A phrygian", "F major"),
    ],
)
def test_relative(text, name):
    # Common practice: a minor third below the major tonic; modes belong to their major key.
    found = relative(parse_key(text))
    assert found is not None
    assert found.name == name


def test_no_major_key_has_the_notes_of_harmonic_minor():
    assert relative(parse_key("A harmonic minor")) is None


def test_parallel():
    assert parallel(parse_key("Gb minor")).name == "Gb major"
    assert parallel(parse_key("F# dorian")).name == "F# major"
    assert parallel(parse_key("E lydian")).name == "E minor"
