from __future__ import annotations

import math
import pickle
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.theory.chord_table import QUALITIES
from live.theory.errors import FieldError
from live.theory.keys import parse_key
from live.theory.progressions import parse_progression

NUMERALS = ("I", "II", "III", "IV", "V", "VI", "VII")


def chords(text, key):
    return " ".join(s.chord.name for s in parse_progression(text, parse_key(key)).stretches)


@pytest.mark.parametrize(
    ("text", "key", "names"),
    # Common practice, no source; music21 reads the same figures in tests/oracle.
    [
        ("i VI iv v", "D minor", "Dm Bb Gm Am"),
        ("i VI III VII", "A minor", "Am F C G"),
        ("I V vi IV", "C major", "C G Am F"),
        ("ii7 V7 Imaj7", "Bb major", "Cm7 F7 Bbmaj7"),
        ("i(add9) iv7 V7", "F# minor", "F#m(add9) Bm7 C#7"),
        # A seventh-degree diminished chord in minor stands on the leading note.
        ("vii° vii°7 viiø7 VII", "D minor", "C#dim C#dim7 C#m7b5 C"),
        ("vi° VI vi", "D minor", "Bdim Bb Bbm"),
        ("vii° viiø7", "C major", "Bdim Bm7b5"),
        # Flats lower the higher, sharps raise the lower, of own and major-scale degree.
        ("bVI VI bVII bII", "D minor", "Bb Bb C Eb"),
        ("bVI bVII bIII", "C major", "Ab Bb Eb"),
        ("#iv° #vi° #vii°", "D minor", "G#dim Bdim C#dim"),
        ("#iv° IV #IV", "C lydian", "F#dim F# F#"),
        ("II bII #ii", "E phrygian", "F F F#m"),
        ("bbVII ♭VI ♯iv°", "C major", "A Ab F#dim"),
        # Modes: the plain numeral is the key's own degree.
        ("i IV VII", "D dorian", "Dm G C"),
        ("I VII IV", "G mixolydian", "G F C"),
        # Scales without the degree borrow it from major or minor.
        ("i VI VII", "A minor pentatonic", "Am F G"),
        ("I IV V", "C major pentatonic", "C F G"),
        ("I IV V", "A blues", "A D E"),
        # Qualities on small letters.
        ("iio ii° iiø iidim", "C minor", "Ddim Ddim Dm7b5 Ddim"),
        ("isus4 isus2 i5 i6 imaj7 i7sus4", "A minor", "Asus4 Asus2 A5 Am6 AmMaj7 A7sus4"),
        ("III+ V+ Vaug", "A minor", "Caug Eaug Eaug"),
        ("I6 IVM7 V13", "C major", "C6 Fmaj7 G13"),
        # A double flat is written plainly.
        ("bVI iv", "Gb major", "D Cbm"),
        ("Dm Bb C", "D minor", "Dm Bb C"),
        ("i | Bbmaj7, v|VII", "D minor", "Dm Bbmaj7 Am C"),
    ],
)
def test_chords_as_written(text, key, names):
    assert chords(text, key) == names


def test_lengths():
    progression = parse_progression("Dm:2 Bb:0.5 C:1/2 i:.25 V", parse_key("D minor"))
    lengths = [stretch.bars for stretch in progression.stretches]
    assert lengths == [2, Fraction(1, 2), Fraction(1, 2), Fraction(1, 4), 1]
    assert progression.bars == Fraction(17, 4)
    assert progression.text == "Dm:2 Bb:0.5 C:1/2 i:.25 V"
    assert [stretch.text for stretch in progression.stretches] == ["Dm", "Bb", "C", "i", "V"]


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ("", "character 1"),
        ("  ", "character 1"),
        ("Dm Hx C", "character 4"),
        ("Dm Bz C", "character 5"),
        ("i VI iv vz", "character 10"),
        ("i VIX", "character 5"),
        ("i IIV", "character 3"),
        ("i iV", "character 3"),
        ("i vi V7/X", "character 9"),
        ("i bX", "character 4"),
        ("#9", "character 1"),
        ("i #VIII", "character 3"),
        ("bbbVI", "character 1"),
        ("i i+", "character 4"),
        ("i i7b9", "character 4"),
        ("i:0", "character 3"),
        ("i V:x", "character 5"),
        ("i V:", "character 5"),
        ("i V:65", "character 5"),
        ("i V:1e99999999", "character 5"),
        ("i V:-1", "character 5"),
        ("i V:1/0", "character 5"),
        ("i V:nan", "character 5"),
        (":2", "character 1"),
        ("i Dm/x:2", "character 6"),
    ],
)
def test_errors_point_at_the_character(text, where):
    with pytest.raises(FieldError) as caught:
        parse_progression(text, parse_key("D minor"))
    assert caught.value.where == where


@pytest.mark.parametrize(
    ("text", "names"),
    # Common practice, no source: repeat signs; (...)x2 is our own.
    [
        ("(i VI)x2", "Dm Bb Dm Bb"),
        ("(i VI)×3 V", "Dm Bb Dm Bb Dm Bb A"),
        ("|: i VI :| V", "Dm Bb Dm Bb A"),
        ("|: i | VI :|x3", "Dm Bb Dm Bb Dm Bb"),
        ("|:i:||:VI:|", "Dm Dm Bb Bb"),
        ("((i)x2 VI)x2", "Dm Dm Bb Dm Dm Bb"),
        ("(i(add9) VI)x2", "Dm(add9) Bb Dm(add9) Bb"),
        ("i % VI %", "Dm Dm Bb Bb"),
        ("V7/V vii°7/V V7/iv V/♭II V/V/V", "E7 G#dim7 D7 Bb B"),
    ],
)
def test_repeats_and_secondary_chords(text, names):
    assert chords(text, "D minor") == names


def test_a_repeat_keeps_the_lengths():
    progression = parse_progression("(Dm:2 Bb:1/2)x2 C:3 % %:1", parse_key("D minor"))
    lengths = [stretch.bars for stretch in progression.stretches]
    assert lengths == [2, Fraction(1, 2), 2, Fraction(1, 2), 3, 3, 1]


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ("(i VI", "character 1"),
        ("i VI)x2", "character 5"),
        ("(i VI)", "character 7"),
        ("(i VI)x0", "character 8"),
        ("(i VI)x65", "character 8"),
        ("(i VI)xy", "character 8"),
        ("()x2", "character 1"),
        ("i |: VI", "character 3"),
        ("|: i )x2", "character 6"),
        ("% i", "character 1"),
        ("((((i)x64)x64)x64)x64", "character 10"),
        ("V7/", "character 4"),
        ("V7/iV", "character 4"),
        ("V/VIII", "character 3"),
    ],
)
def test_errors_in_repeats_and_secondary_chords(text, where):
    with pytest.raises(FieldError) as caught:
        parse_progression(text, parse_key("D minor"))
    assert caught.value.where == where


@given(st.text(max_size=30))
def test_any_text_is_read_or_refused(text):
    try:
        progression = parse_progression(text, parse_key("F# dorian"))
    except FieldError as error:
        at = int(error.where.removeprefix("character "))
        assert 1 <= at <= len(text) + 1
    else:
        assert progression.bars > 0


def test_the_chord_at_a_bar_repeats():
    key = parse_key("D minor")
    progression = parse_progression("Dm:2 Bb:1 C:0.5 Am:1/2", key)
    names = [progression.chord_at(bar).name for bar in range(8)]
    assert names == ["Dm", "Dm", "Bb", "C"] * 2
    assert progression.chord_at(3.5).name == "Am"
    assert progression.chord_at(Fraction(7, 2)).name == "Am"
    assert progression.chord_at(3.499).name == "C"
    assert progression.chord_at(-1).name == "C"
    assert progression.stretch_index_at(4003.75) == 3


@given(
    st.lists(st.tuples(st.integers(1, 7), st.integers(1, 4)), min_size=1, max_size=6),
    st.integers(0, 400),
)
def test_the_index_agrees_with_walking_through(parts, eighths):
    text = " ".join(f"{NUMERALS[n - 1]}:{half}/2" for n, half in parts)
    progression = parse_progression(text, parse_key("C major"))
    walked = [index for index, (_, half) in enumerate(parts) for _ in range(half * 4)]
    assert progression.stretch_index_at(Fraction(eighths, 8)) == walked[eighths % len(walked)]


@pytest.mark.parametrize("bar", [math.nan, math.inf])
def test_a_bar_must_be_finite(bar):
    with pytest.raises((ValueError, OverflowError)):
        parse_progression("i", parse_key("D minor")).chord_at(bar)


@pytest.mark.parametrize("suffix", QUALITIES)
def test_every_quality_can_stand_on_a_numeral(suffix):
    assert chords("V" + suffix, "C major") == "G" + suffix


def test_progressions_travel_between_processes():
    progression = parse_progression("i VI iv v", parse_key("D minor"))
    assert pickle.loads(pickle.dumps(progression)) == progression
