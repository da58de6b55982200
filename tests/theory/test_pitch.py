from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.theory.errors import FieldError
from live.theory.pitch import (
    Spelling,
    frequency_hz,
    note_name,
    octave_of,
    parse_note,
    parse_spelling,
    pretty,
)

# Line of fifths: C = 0, a fifth up adds 1, a sharp adds 7 (Temperley 2001, chapter 5; values
# recomputed independently in the project's notes on reference values).
LINE_OF_FIFTHS = {
    "F": -1,
    "C": 0,
    "G": 1,
    "D": 2,
    "A": 3,
    "E": 4,
    "B": 5,
    "Bb": -2,
    "F#": 6,
    "C#": 7,
    "Gb": -6,
    "Cb": -7,
    "B#": 12,
    "Fb": -8,
}

# ISO 16:1975 fixes A4 = 440 Hz; the other values are equal temperament to three decimals as
# printed in common frequency tables.
FREQUENCIES_HZ = {
    "A0": 27.5,
    "B0": 30.868,
    "C1": 32.703,
    "E1": 41.203,
    "G1": 48.999,
    "A1": 55.0,
    "C2": 65.406,
    "E2": 82.407,
    "A2": 110.0,
    "C3": 130.813,
    "C4": 261.626,
    "A4": 440.0,
}


@pytest.mark.parametrize(("name", "fifths"), LINE_OF_FIFTHS.items())
def test_line_of_fifths(name, fifths):
    assert parse_spelling(name) == Spelling(fifths)
    assert Spelling(fifths).name == name


@given(st.integers(-15, 19))
def test_names_round_trip_up_to_two_accidentals(fifths):
    spelling = Spelling(fifths)
    assert parse_spelling(spelling.name) == spelling
    assert parse_spelling(spelling.pretty) == spelling
    assert spelling.name.startswith(spelling.letter)


@given(st.integers(-40, 40))
def test_a_fifth_up_is_seven_semitones_and_four_letters(fifths):
    low, high = Spelling(fifths), Spelling(fifths + 1)
    assert (high.pitch_class - low.pitch_class) % 12 == 7
    assert ("CDEFGAB".index(high.letter) - "CDEFGAB".index(low.letter)) % 7 == 4


@given(st.integers(-40, 40), st.integers(1, 2), st.integers(1, 2))
def test_enharmonic_keeps_the_pitch_and_the_limits(fifths, sharps, flats):
    plainer = Spelling(fifths).enharmonic(sharps, flats)
    assert plainer.pitch_class == Spelling(fifths).pitch_class
    assert -flats <= plainer.alter <= sharps


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("bb", "Bb"),
        ("b", "B"),
        ("B♭", "Bb"),
        ("f♯", "F#"),
        ("Cx", "C##"),
        ("F𝄪", "F##"),
        ("E𝄫", "Ebb"),
        (" g ", "G"),
        ("bbb", "Bbb"),
    ],
)
def test_spellings_as_typed(text, name):
    assert parse_spelling(text).name == name


@pytest.mark.parametrize("text", ["", "H", "C###", "C#b", "Cbbb", "C4", "C #", "#", "♭B"])
def test_a_bad_name_says_what_is_allowed(text):
    with pytest.raises(FieldError, match=r"note name.*letter A to G"):
        parse_spelling(text)


@pytest.mark.parametrize(
    ("text", "midi"),
    # Octaves by scientific pitch notation, C4 = 60 (Acoustical Society of America naming).
    [
        ("C4", 60),
        ("E1", 28),
        ("Bb3", 58),
        ("F♯2", 42),
        ("28", 28),
        ("Cb4", 59),
        ("B#3", 60),
        ("C-1", 0),
        ("G9", 127),
        ("0", 0),
        ("127", 127),
        ("bb3", 58),
        ("b3", 59),
        (" a0 ", 21),
    ],
)
def test_notes_by_name_or_number(text, midi):
    assert parse_note(text) == midi


@pytest.mark.parametrize(
    "text", ["128", "-1", "G#9", "Cb-1", "C", "", "H2", "3.5", "C99999", "c 4", "٣"]
)
def test_a_bad_note_says_the_range(text):
    with pytest.raises(FieldError, match=r"note:.*0 to 127 inclusive"):
        parse_note(text)


@given(st.integers(0, 127), st.integers(-15, 19))
def test_every_note_has_a_name_that_reads_back(midi, fifths):
    while Spelling(fifths).pitch_class != midi % 12:
        fifths -= 1
    spelling = Spelling(fifths).enharmonic(2, 2)
    name = note_name(midi, spelling)
    assert parse_note(name) == midi
    assert name == f"{spelling.name}{octave_of(midi, spelling)}"


@pytest.mark.parametrize(("name", "hertz"), FREQUENCIES_HZ.items())
def test_frequencies(name, hertz):
    assert frequency_hz(parse_note(name)) == pytest.approx(hertz, abs=0.0005)


def test_frequency_follows_the_tuning_and_takes_fractions():
    assert frequency_hz(69, 442.0) == 442.0
    assert frequency_hz(81, 442.0) == 884.0
    # A quarter tone is half a semitone: the ratio of two of them is one semitone.
    assert frequency_hz(69.5) ** 2 == pytest.approx(frequency_hz(69) * frequency_hz(70))


@pytest.mark.parametrize(
    ("plain", "shown"),
    [
        ("b6", "♭6"),
        ("F#", "F♯"),
        ("Bb", "B♭"),
        ("Bb3", "B♭3"),
        ("bVI", "♭VI"),
        ("#4", "♯4"),
        ("Bbm7", "B♭m7"),
        ("dorian b2", "dorian ♭2"),
        ("locrian bb7", "locrian 𝄫7"),
        ("F##", "F𝄪"),
        ("Bbb", "B𝄫"),
        ("C# is outside Bb minor: down to C", "C♯ is outside B♭ minor: down to C"),
        ("blues", "blues"),
        ("Abbey", "Abbey"),
        ("subtonic", "subtonic"),
    ],
)
def test_pretty(plain, shown):
    assert pretty(plain) == shown
