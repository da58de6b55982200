from __future__ import annotations

import pickle

import pytest

from live.theory.chord_table import ALIASES, QUALITIES
from live.theory.chords import chord_on, find_quality, parse_chord
from live.theory.errors import FieldError
from live.theory.pitch import Spelling, parse_spelling

ROOTS = [letter + sign for letter in "CDEFGAB" for sign in ("", "#", "b")]


@pytest.mark.parametrize("suffix", QUALITIES)
def test_names_round_trip(suffix):
    for root in ROOTS:
        chord = chord_on(parse_spelling(root), suffix)
        assert parse_chord(chord.name) == chord
        assert parse_chord(chord.pretty) == chord
        over_bass = chord_on(parse_spelling(root), suffix, Spelling(chord.root.fifths + 4))
        assert parse_chord(over_bass.name) == over_bass
        assert parse_chord(over_bass.pretty) == over_bass


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("C", "C"),
        ("cm", "Cm"),
        ("bb", "Bb"),
        ("bbm", "Bbm"),
        ("b", "B"),
        ("CM7", "Cmaj7"),
        ("Cm7", "Cm7"),
        ("CMaj7", "Cmaj7"),
        ("CMIN7", "Cm7"),
        ("CMadd9", "Cadd9"),
        ("Cmadd9", "Cm(add9)"),
        ("Cm(add4)", "Cm(add4)"),
        ("Cmadd11", "Cm(add11)"),
        ("CmMaj7", "CmMaj7"),
        ("CmM7", "CmMaj7"),
        ("C-7", "Cm7"),
        ("CΔ", "Cmaj7"),
        ("C°", "Cdim"),
        ("C°7", "Cdim7"),
        ("Cø", "Cm7b5"),
        ("C+", "Caug"),
        ("Csus", "Csus4"),
        ("C6/9", "C6/9"),
        ("C6/9/E", "C6/9/E"),
        ("C69", "C6/9"),
        ("Am/C", "Am/C"),
        ("Am/c", "Am/C"),
        ("C/C", "C"),
        ("F♯m7♭5", "F#m7b5"),
        ("E𝄫maj7", "Ebbmaj7"),
        ("Cxm", "C##m"),
        ("Dm (add9)", "Dm(add9)"),
    ],
)
def test_symbols_as_typed(text, name):
    assert parse_chord(text).name == name


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ("", "character 1"),
        ("H", "character 1"),
        ("Cfoo", "character 2"),
        ("Bbfoo", "character 3"),
        ("C/", "character 3"),
        ("Cm7/H", "character 5"),
        ("Cm7/Ebb9", "character 5"),
        ("Cfoo/E", "character 2"),
        ("C/E/G", "character 2"),
    ],
)
def test_errors_point_at_the_character(text, where):
    with pytest.raises(FieldError, match=r"^chord") as caught:
        parse_chord(text)
    assert caught.value.where == where


def test_errors_count_what_stands_before():
    with pytest.raises(FieldError, match=r"character 12"):
        parse_chord("Dmx", at=10)


@pytest.mark.parametrize(
    ("text", "roles"),
    # Common practice, no source: each chord tone by its interval above the root.
    [
        ("Dm", "D R, F b3, A 5"),
        ("Bbmaj7", "Bb R, D 3, F 5, A 7"),
        ("G7", "G R, B 3, D 5, F b7"),
        ("Bdim", "B R, D b3, F b5"),
        ("Bdim7", "B R, D b3, F b5, Ab bb7"),
        ("Caug", "C R, E 3, G# #5"),
        ("Csus2", "C R, D 2, G 5"),
        ("Csus4", "C R, F 4, G 5"),
        ("C6", "C R, E 3, G 5, A 6"),
        ("Cm6", "C R, Eb b3, G 5, A 6"),
        ("C9", "C R, E 3, G 5, Bb b7, D 9"),
        ("C13", "C R, E 3, G 5, Bb b7, D 9, A 13"),
        ("Cm11", "C R, Eb b3, G 5, Bb b7, D 9, F 11"),
        ("Dm(add9)", "D R, F b3, A 5, E 9"),
        ("Dm(add11)", "D R, F b3, A 5, G 11"),
        ("Dm(add4)", "D R, F b3, A 5, G 4"),
        ("C7#9", "C R, E 3, G 5, Bb b7, D# #9"),
        ("C7b9", "C R, E 3, G 5, Bb b7, Db b9"),
        ("Cmaj7#11", "C R, E 3, G 5, B 7, F# #11"),
        ("C7b13", "C R, E 3, G 5, Bb b7, Ab b13"),
        ("A5", "A R, E 5"),
        ("Am/C", "A R, C b3, E 5"),
        # A foreign bass is named as a tension where the trade has a name for one.
        ("C/D", "C R, E 3, G 5, D 9"),
        ("C/Db", "C R, E 3, G 5, Db b9"),
        ("C/Bb", "C R, E 3, G 5, Bb b7"),
        ("C/F", "C R, E 3, G 5, F 11"),
        ("C5/E", "C R, G 5, E 3"),
    ],
)
def test_roles(text, roles):
    chord = parse_chord(text)
    wanted = dict(entry.split() for entry in roles.split(", "))
    by_pitch_class = {parse_spelling(name).pitch_class: role for name, role in wanted.items()}
    assert {pc: chord.role(pc) for pc in range(12) if chord.role(pc)} == by_pitch_class
    assert chord.pitch_classes == set(by_pitch_class)
    assert chord.role(chord.root_pc + 48) == "R"


def test_every_foreign_bass_has_a_role():
    for suffix in QUALITIES:
        for above in range(12):
            bass = Spelling(above * 7 % 12)
            chord = chord_on(Spelling(0), suffix, bass)
            assert chord.role(bass.pitch_class)
            assert bass.pitch_class in chord.pitch_classes


def test_pretty_names():
    assert parse_chord("Bbm7b5/Db").pretty == "B♭m7♭5/D♭"
    assert parse_chord("F#7#9").pretty == "F♯7♯9"


def test_every_alias_names_one_quality():
    for form, suffix in ALIASES.items():
        assert find_quality(form) == suffix
    assert find_quality("nothing") is None


def test_chords_travel_between_processes():
    chord = parse_chord("Dm(add11)/F")
    assert pickle.loads(pickle.dumps(chord)) == chord
