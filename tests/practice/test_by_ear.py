"""What is heard of a degree that is asked by ear."""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import roman as m21_roman
from music21 import scale as m21_scale

from live.clock.units import TICKS_PER_BEAT
from live.notes.phrase import PhraseNote
from live.practice.by_ear import ASKED_VELOCITY, dictated, key_steps
from live.practice.drill import asked_note
from live.theory.keys import parse_key
from live.theory.scales import SCALES, find_scale

BASS = (28, 55)
D_MINOR = parse_key("D minor")


def heard(
    name: str, place: int, compass: tuple[int, int] = BASS, seed: int = 1, loudest: int = 96
) -> tuple[PhraseNote, ...]:
    key = parse_key(name)
    return dictated(key, asked_note(key, place), compass, loudest, random.Random(seed))


@pytest.mark.parametrize("scale", SCALES, ids=lambda scale: scale.name)
@pytest.mark.parametrize("compass", [BASS, (0, 12), (115, 127), (40, 52), (36, 84)])
def test_in_every_key_one_note_at_a_time_in_range_the_asked_one_last(scale, compass):
    for tonic in ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"):
        key = parse_key(f"{tonic} {scale.name}")
        for place in range(len(scale.steps)):
            *before, asked = dictated(key, asked_note(key, place), compass, 96, random.Random(2))
            assert (asked.pitch - asked_note(key, place)) % 12 == 0
            assert all(compass[0] <= note.pitch <= compass[1] for note in (*before, asked))
            assert {note.pitch % 12 for note in before} <= key.pitch_classes
            assert [note.pitch % 12 for note in (before[0], before[-1])] == [key.tonic_pc] * 2
            for one, other in zip(before, [*before[1:], asked], strict=True):
                assert one.onset_ticks + one.length_ticks < other.onset_ticks
            assert asked.length_ticks > max(note.length_ticks for note in before)


# Source: music21, the third and the fifth degree of its own scale classes.
@pytest.mark.parametrize(
    ("name", "mode"),
    [
        ("major", m21_scale.MajorScale), ("minor", m21_scale.MinorScale),
        ("dorian", m21_scale.DorianScale), ("phrygian", m21_scale.PhrygianScale),
        ("lydian", m21_scale.LydianScale), ("mixolydian", m21_scale.MixolydianScale),
        ("locrian", m21_scale.LocrianScale), ("harmonic minor", m21_scale.HarmonicMinorScale),
    ],
)  # fmt: skip
def test_the_key_is_made_clear_by_the_triad_of_the_scale_in_the_reference_library(name, mode):
    third, fifth = (mode("d").pitchFromDegree(degree).pitchClass for degree in (3, 5))
    assert key_steps(find_scale(name)) == (0, (third - 2) % 12, (fifth - 2) % 12, 0)


@pytest.mark.parametrize(("name", "numeral", "tonic"), [("major", "I", "D"), ("minor", "i", "d")])
def test_in_major_and_minor_it_is_the_tonic_chord_of_the_reference_library(name, numeral, tonic):
    chord = m21_roman.RomanNumeral(numeral, tonic)
    steps = key_steps(find_scale(name))
    assert {(2 + step) % 12 for step in steps} == {pitch.pitchClass for pitch in chord.pitches}


# Common practice, no source: major, minor, diminished and augmented triads, as the scale has them.
@pytest.mark.parametrize(
    ("name", "steps"),
    [
        ("minor pentatonic", (0, 3, 7, 0)), ("major blues", (0, 4, 7, 0)),
        ("whole tone", (0, 4, 8, 0)), ("octatonic whole half", (0, 3, 6, 0)),
        ("lydian augmented", (0, 4, 8, 0)), ("altered", (0, 3, 6, 0)),
        ("suspended pentatonic", (0, 7, 0)), ("iwato", (0, 6, 0)),
    ],
)  # fmt: skip
def test_scales_without_a_common_triad_give_what_they_have(name, steps):
    assert key_steps(find_scale(name)) == steps


def test_a_scale_of_two_notes_has_its_tonic_at_least():
    assert key_steps(parse_key("D [0 1]").scale) == (0, 0)


def test_the_triad_rises_from_the_tonic_where_there_is_room():
    assert [note.pitch for note in heard("D minor", 1)[:-1]] == [38, 41, 45, 38]
    assert [note.pitch for note in heard("C minor", 1)[:-1]] == [48, 51, 55, 48]


def test_the_asked_note_comes_in_every_octave_of_the_range():
    assert {heard("D minor", 4, seed=seed)[-1].pitch for seed in range(20)} == {33, 45}


def test_the_same_chance_gives_the_same_notes():
    assert heard("F# dorian", 3, seed=5) == heard("F# dorian", 3, seed=5)


@given(steps=st.integers(1, 11), seed=st.integers(0, 99), place=st.integers(0, 6))
def test_a_transposed_key_in_a_transposed_range_is_heard_transposed(steps, seed, place):
    here = heard("C minor", place, (28, 55), seed)
    names = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "G#", "A", "Bb", "B")
    there = heard(f"{names[steps]} minor", place, (28 + steps, 55 + steps), seed)
    assert [note.pitch - steps for note in there] == [note.pitch for note in here]


@pytest.mark.parametrize(("loudest", "velocity"), [(127, ASKED_VELOCITY), (60, 60), (1, 1)])
def test_nothing_is_louder_than_the_bass_may_be(loudest, velocity):
    notes = heard("D minor", 0, loudest=loudest)
    assert max(note.velocity for note in notes) == velocity


def test_after_the_key_there_is_a_rest():
    *_, last, asked = heard("D minor", 0)
    assert asked.onset_ticks - last.onset_ticks - last.length_ticks >= TICKS_PER_BEAT
