from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.theory.chord_names import chord_readings, name_chord
from live.theory.chord_table import QUALITIES
from live.theory.chords import chord_on, intervals_of, parse_chord
from live.theory.errors import FieldError
from live.theory.keys import parse_key
from live.theory.pitch import Spelling, parse_spelling

PLAIN_ROOTS = [Spelling(fifths) for fifths in range(-5, 7)]
SETS = st.sets(st.integers(0, 127), min_size=2, max_size=7).filter(
    lambda notes: len({note % 12 for note in notes}) >= 2
)


def upward(names):
    """Notes from the names, each above the one before, from C2 up."""
    notes = []
    for name in names.split():
        low = notes[-1] + 1 if notes else 36
        notes.append(low + (parse_spelling(name).pitch_class - low) % 12)
    return notes


def stacked(suffix, root, bass_interval=0):
    """A quality's tones over its root, under them one tone of it when that is not the root."""
    notes = [48 + root + interval for interval in intervals_of(suffix)]
    return notes if bass_interval == 0 else [36 + root + bass_interval, *notes]


# Common practice, no source: how lead sheets name these notes, lowest first.
@pytest.mark.parametrize(
    ("notes", "name", "inversion"),
    [
        ("D F A", "Dm", 0),
        ("F A D", "Dm/F", 1),
        ("A D F", "Dm/A", 2),
        ("Bb D F A", "Bbmaj7", 0),
        ("A Bb D F", "Bbmaj7/A", 3),
        ("C# E G Bb", "C#dim7", 0),
        ("F# A C D", "D7/F#", 1),
        # The minor chords this music is made of.
        ("D F G A", "Dm(add4)", 0),
        ("D F A G", "Dm(add11)", 0),
        ("D F E", "Dm(add9)(no5)", 0),
        ("D F A E", "Dm(add9)", 0),
        ("D F C E", "Dm9(no5)", 0),
        ("D F A C E", "Dm9", 0),
        ("D F C", "Dm7(no5)", 0),
        ("D F A C G", "Dm7(add11)", 0),
        ("F D E", "Dm(add9)(no5)/F", 1),
        # Open fifths and pairs.
        ("D A", "D5", 0),
        ("A D", "D5/A", 2),
        ("D F", "Dm(no5)", 0),
        ("D F#", "D(no5)", 0),
        ("D C", "D7(no3)(no5)", 0),
        ("D C#", "Dmaj7(no3)(no5)", 0),
        ("D G#", "Ddim(no3)", 0),
        ("D A C", "D7(no3)", 0),
        ("G B F", "G7(no5)", 0),
        # A ninth, an eleventh or a foreign note in the bass makes a slash chord.
        ("D C E G", "C/D", None),
        ("F C E G", "C/F", None),
        ("F C Eb G", "Cm/F", None),
        ("G F A C", "F/G", None),
        ("D A C E", "Am/D", None),
        ("G D F A C", "G9sus4", 0),
        # Stacked fourths.
        ("D G C", "D7sus4(no5)", 0),
        # Seven notes.
        ("C E G B D F# A", "Cmaj13#11", 0),
        ("C Eb G Bb D F A", "Cm13", 0),
        # More than the trade has a name for: the plain chord and what is added to it.
        ("C E G Db D", "C(addb9)(add9)", 0),
        ("C E G Ab", "Abmaj7#5/C", 1),
    ],
)
def test_names(notes, name, inversion):
    best = chord_readings(upward(notes))[0]
    assert best.chord.name == name
    assert best.inversion == inversion


# Notes that only the bass can name; the policy is common practice, no source.
@pytest.mark.parametrize(
    ("notes", "by_bass"),
    [
        ("C E G A", "C C6, E Am7/E, G Am7/G, A Am7"),
        ("C Eb G A", "C Cm6, Eb Am7b5/Eb, G Am7b5/G, A Am7b5"),
        ("C D G", "C Csus2, D D7sus4(no5), G Gsus4"),
        ("C Eb F# A", "C Cdim7, Eb D#dim7, F# F#dim7, A Adim7"),
        ("C E G#", "C Caug, E Eaug, G# Abaug"),
        ("C Eb F G", "C Cm(add4), Eb Cm(add4)/Eb, F Cm/F, G Cm(add4)/G"),
        ("C E Gb Bb", "C C7b5, E F#7b5/E, Gb F#7b5, Bb C7b5/Bb"),
        ("C E G D A", "C C6/9, E Am7(add4)/E, G Am7(add4)/G, A Am7(add4), D D9sus4"),
    ],
)
def test_the_bass_decides(notes, by_bass):
    pitch_classes = [note % 12 for note in upward(notes)]
    for entry in by_bass.split(", "):
        bass, name = entry.split()
        low = parse_spelling(bass).pitch_class
        close = [36 + low + (pc - low) % 12 for pc in pitch_classes]
        assert name_chord(close).name == name


# Qualities whose inversions have another name with the same notes: the bass or the commoner name
# wins there, and theirs stays among the readings.
SHARED = {
    *("aug", "sus2", "sus4", "6", "m6", "6/9", "m6/9", "m7", "m7b5", "dim7", "7b5", "7sus4"),
    *("9sus4", "13sus4", "m11", "m7(add11)", "m7(add4)", "13", "maj13", "maj13#11", "m13"),
}
SLASHED = {"add4", "m(add4)", "m7(add4)"}
"""Over its fourth this is the chord without it over a foreign bass: C/F, not Cadd4/F."""


@pytest.mark.parametrize("suffix", QUALITIES)
def test_symbol_to_notes_to_symbol(suffix):
    for root in PLAIN_ROOTS:
        for bass in (interval for interval in QUALITIES[suffix] if interval < 12):
            if bass == 5 and suffix in SLASHED:
                continue
            readings = chord_readings(stacked(suffix, root.pitch_class, bass))
            named = [(reading.chord.suffix, reading.chord.root_pc) for reading in readings]
            wanted = (suffix, root.pitch_class)
            assert wanted in named
            if bass == 0 or suffix not in SHARED:
                assert named[0] == wanted, readings[0].chord.name
                low = readings[0].chord.bass
                assert (low.pitch_class if low else root.pitch_class) == (
                    root.pitch_class + bass
                ) % 12


def test_the_shared_qualities_need_their_exception():
    for suffix in SHARED:
        basses = [bass for bass in QUALITIES[suffix] if bass < 12]
        first = [chord_readings(stacked(suffix, 0, bass))[0].chord for bass in basses]
        assert {(chord.suffix, chord.root_pc) for chord in first} != {(suffix, 0)}, suffix


def test_every_set_over_every_bass_has_a_name_that_reads_back():
    for size in range(2, 8):
        for pitch_classes in itertools.combinations(range(12), size):
            for bass in pitch_classes:
                rest = [48 + pc for pc in pitch_classes if pc != bass]
                readings = chord_readings([24 + bass, *rest])
                assert sum(reading.score for reading in readings) == pytest.approx(1)
                for reading in readings:
                    assert reading.chord.pitch_classes == set(pitch_classes)
                assert parse_chord(readings[0].chord.name) == readings[0].chord


@given(SETS, st.integers(-60, 60))
def test_transposition_commutes(notes, by):
    if not all(0 <= note + by <= 127 for note in notes):
        return
    here, there = chord_readings(notes), chord_readings([note + by for note in notes])
    assert [(r.chord.suffix, r.inversion) for r in here] == [
        (r.chord.suffix, r.inversion) for r in there
    ]
    for one, other in zip(here, there, strict=True):
        assert other.chord.root_pc == (one.chord.root_pc + by) % 12
        assert other.score == pytest.approx(one.score)


@given(SETS)
def test_order_repeats_and_doubled_octaves_above_do_not_matter(notes):
    readings = chord_readings(notes)
    assert chord_readings([*sorted(notes, reverse=True), *notes]) == readings
    low = min(notes)
    if low + 24 <= 127:
        assert chord_readings([*notes, low + 24])[0].chord.root_pc == readings[0].chord.root_pc


@pytest.mark.parametrize(
    ("notes", "key", "name"),
    [
        ("Gb Bb Db", "Gb major", "Gb"),
        ("F# A# C#", "F# major", "F#"),
        ("Ab C Eb", "Db major", "Ab"),
        ("G# B D#", "E major", "G#m"),
        ("D# F# A#", "D# minor", "D#m"),
        ("Eb Gb Bb", "Eb minor", "Ebm"),
        # Bass notes are spelled in the chord, not by the key.
        ("C# E A", "D minor", "A/C#"),
        ("Bb C E G", "A minor", "C7/Bb"),
        # The key's leading note is the root of a diminished seventh and an augmented triad.
        ("E G Bb C#", "D minor", "C#dim7/E"),
        ("G Bb C# E", "D minor", "C#dim7/G"),
        ("D F G# B", "C major", "Bdim7/D"),
    ],
)
def test_the_key_spells_the_root(notes, key, name):
    assert name_chord(upward(notes), parse_key(key)).name == name


@pytest.mark.parametrize(
    "notes",
    [[], [60], [36, 48, 60], range(128), range(60, 68), [-1, 60], [60, 128]],
    ids=["none", "one", "octaves", "all 128", "eight", "below", "above"],
)
def test_what_is_no_chord_is_refused(notes):
    with pytest.raises(FieldError, match=r"2 to 7 different notes|0 to 127") as caught:
        chord_readings(notes)
    assert caught.value.field == "chord"


def test_the_default_spelling_of_roots():
    majors = [name_chord(stacked("", pc)).name for pc in range(12)]
    minors = [name_chord(stacked("m", pc)).name for pc in range(12)]
    assert majors == ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"]
    assert minors == ["Cm", "C#m", "Dm", "D#m", "Em", "Fm", "F#m", "Gm", "G#m", "Am", "Bbm", "Bm"]


@pytest.mark.parametrize("suffix", QUALITIES)
def test_tones_are_spelled_in_thirds_from_the_root(suffix):
    for root in PLAIN_ROOTS:
        chord = chord_on(root, suffix)
        for interval in chord.intervals:
            spelled = chord.spell(root.pitch_class + interval)
            assert spelled is not None
            assert spelled.pitch_class == (root.pitch_class + interval) % 12
        assert chord.spell(root.pitch_class) == root
        assert {chord.spell(pc) for pc in range(12) if pc not in chord.pitch_classes} <= {None}
