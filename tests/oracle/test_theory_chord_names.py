"""Named chords against music21 and mir_eval, secondary numerals against music21.roman."""

from __future__ import annotations

import mir_eval.chord
import pytest
from music21 import chord as m21_chord
from music21 import key as m21_key
from music21 import roman

from live.theory.chord_names import name_chord
from live.theory.chords import chord_on
from live.theory.keys import parse_key
from live.theory.numerals import numeral_chord
from live.theory.pitch import Spelling, note_name

# Left out by name, as music21 gives another root for them: 6, m6, 6/9 and 13 (the sixth), sus4
# and 7sus4 (the fourth), dim and dim7.
MUSIC21 = (
    *("", "m", "aug", "7", "maj7", "m7", "mMaj7", "m7b5", "add9", "m(add9)", "m(add4)"),
    *("m(add11)", "add11", "9", "maj9", "m9", "m11", "7#9", "7b9", "7#5", "5", "sus2"),
    *("7(no5)", "maj7(no5)", "m7(no5)"),
)
# mir_eval's name for a quality and our suffix; 9 and beyond it cuts to the seventh.
MIR_EVAL = {
    "maj": "",
    "min": "m",
    "aug": "aug",
    "dim": "dim",
    "sus4": "sus4",
    "sus2": "sus2",
    "7": "7",
    "maj7": "maj7",
    "min7": "m7",
    "minmaj7": "mMaj7",
    "maj6": "6",
    "min6": "m6",
    "dim7": "dim7",
    "hdim7": "m7b5",
    "5": "5",
}


@pytest.mark.parametrize("suffix", MUSIC21)
def test_roots_as_in_music21(suffix):
    for fifths in range(-5, 7):
        made = chord_on(Spelling(fifths), suffix)
        notes = [48 + made.root_pc + interval for interval in made.intervals]
        names = [note_name(note, made.spell(note)).replace("b", "-") for note in notes]
        assert name_chord(notes).root_pc == m21_chord.Chord(names).root().pitchClass


@pytest.mark.parametrize(("quality", "suffix"), MIR_EVAL.items())
def test_qualities_as_in_mir_eval(quality, suffix):
    bitmap = mir_eval.chord.QUALITIES[quality]
    for root in range(12):
        notes = [48 + root + step for step in range(12) if bitmap[step]]
        named = name_chord(notes)
        assert (named.root_pc, named.suffix) == (root, suffix)


@pytest.mark.parametrize(
    ("tonic", "figure"),
    [
        *[("C", figure) for figure in ("V/V", "V7/V", "V7/ii", "V/vi", "viio7/V", "viio/ii")],
        *[("d", figure) for figure in ("V/V", "V7/iv", "V7/VI", "viio7/V", "viio7/iv")],
    ],
)
def test_secondary_numerals_as_in_music21(tonic, figure):
    key = parse_key(f"{tonic.upper()} {'minor' if tonic.islower() else 'major'}")
    found = roman.RomanNumeral(figure, m21_key.Key(tonic))
    chord = numeral_chord(figure, key)
    assert chord.pitch_classes == {pitch.pitchClass for pitch in found.pitches}
    assert chord.root_pc == found.root().pitchClass
