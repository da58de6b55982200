"""Chord symbols against mir_eval.chord and music21.harmony."""

from __future__ import annotations

import mir_eval.chord
import pytest
from music21 import harmony

from live.theory.chords import parse_chord

# Our suffix and the quality in Harte's syntax, as mir_eval writes it. It cuts ninths and beyond
# to the seventh, so those are left to music21.
HARTE = {
    "": "maj",
    "m": "min",
    "dim": "dim",
    "aug": "aug",
    "5": "5",
    "sus2": "sus2",
    "sus4": "sus4",
    "6": "maj6",
    "m6": "min6",
    "7": "7",
    "maj7": "maj7",
    "m7": "min7",
    "mMaj7": "minmaj7",
    "m7b5": "hdim7",
    "dim7": "dim7",
}

# Our symbol and the one music21 reads. Named exceptions: it cannot read maj9, m69, 6/9, maj13,
# add11 with a major third, m(add4), mMaj9, 9sus4; its 13 holds the eleventh, which ours leaves out.
MUSIC21 = {
    **{suffix: suffix for suffix in ("", "m", "dim", "5", "sus2", "sus4", "6", "m6", "7", "maj7")},
    **{suffix: suffix for suffix in ("m7", "m7b5", "dim7", "9", "m9", "add9", "11", "m11", "m13")},
    **{suffix: suffix for suffix in ("7sus4", "7b9", "7#9", "7#11", "7b13")},
    "aug": "+",
    "mMaj7": "mM7",
    "7#5": "7+",
    "m(add9)": "madd9",
    "m(add11)": "madd11",
}
ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")


@pytest.mark.parametrize("root", ROOTS)
def test_pitch_classes_as_in_mir_eval(root):
    for suffix, quality in HARTE.items():
        root_pc, bitmap, _ = mir_eval.chord.encode(f"{root}:{quality}")
        chord = parse_chord(root + suffix)
        assert chord.root_pc == root_pc
        expected = {(root_pc + step) % 12 for step in range(12) if bitmap[step]}
        assert chord.pitch_classes == expected, chord.name


@pytest.mark.parametrize(("suffix", "figure"), MUSIC21.items())
def test_pitch_classes_as_in_music21(suffix, figure):
    for root in ROOTS:
        found = harmony.ChordSymbol(root.replace("b", "-") + figure)
        chord = parse_chord(root + suffix)
        assert chord.pitch_classes == {pitch.pitchClass for pitch in found.pitches}, chord.name
        assert chord.root_pc == found.root().pitchClass


def test_thirteenth_is_music21_s_without_the_eleventh():
    found = harmony.ChordSymbol("C13")
    assert {pitch.pitchClass for pitch in found.pitches} - {5} == parse_chord("C13").pitch_classes


@pytest.mark.parametrize("text", ["C/E", "Am/C", "Dm/F", "G7/B", "Cm/Eb", "F/C"])
def test_slash_chords(text):
    found = harmony.ChordSymbol(text.replace("Eb", "E-"))
    chord = parse_chord(text)
    assert chord.bass is not None
    assert chord.bass.pitch_class == found.bass().pitchClass
    assert chord.pitch_classes == {pitch.pitchClass for pitch in found.pitches}
