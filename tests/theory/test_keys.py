from __future__ import annotations

import pickle

import pytest

from live.theory.errors import FieldError
from live.theory.keys import Key, degree_spelling, parse_key
from live.theory.pitch import Spelling, parse_note, parse_spelling
from live.theory.scales import SCALES, find_scale

TONICS = [letter + sign for letter in "CDEFGAB" for sign in ("", "#", "b")]


def spelled(text):
    key = parse_key(text)
    return [key.spell(key.tonic_pc + step).name for step in range(12)]


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("D minor", "D minor"),
        ("d min", "D minor"),
        ("Dm", "D minor"),
        ("F# dorian", "F# dorian"),
        ("F♯ dorian", "F# dorian"),
        ("f sharp Dorian", "F# dorian"),
        ("Bb major", "Bb major"),
        ("B flat", "Bb major"),
        ("E-flat lydian", "Eb lydian"),
        ("C", "C major"),
        ("c", "C major"),
        ("CM", "C major"),
        ("Cmaj", "C major"),
        ("bb", "Bb major"),
        ("b", "B major"),
        ("bb minor", "Bb minor"),
        ("b minor", "B minor"),
        ("Bbm", "Bb minor"),
        ("G♭m", "Gb minor"),
        ("  a   harmonic-minor ", "A harmonic minor"),
        ("E# major", "E# major"),
        ("b bebop", "B bebop dominant"),
    ],
)
def test_keys_as_typed(text, name):
    assert parse_key(text).name == name


@pytest.mark.parametrize("tonic", TONICS)
def test_names_round_trip_for_every_tonic_and_scale(tonic):
    for scale in SCALES:
        key = Key(parse_spelling(tonic), scale)
        assert parse_key(key.name) == key
        assert parse_key(key.pretty) == key


@pytest.mark.parametrize(
    ("text", "allowed"),
    [
        ("", "a tonic and a scale"),
        ("H minor", "a tonic and a scale"),
        ("D minorr", "did you mean minor"),
        ("D##", "at most one sharp or flat"),
        ("F♯♯ minor", "at most one sharp or flat"),
        ("Bbb minor", "at most one sharp or flat"),
        ("D minor\nx", "a tonic and a scale"),
        ("7", "a tonic and a scale"),
    ],
)
def test_a_bad_key_says_what_is_allowed(text, allowed):
    with pytest.raises(FieldError, match=r"^key") as caught:
        parse_key(text)
    assert allowed in caught.value.allowed
    assert caught.value.got == text


def test_membership():
    key = parse_key("D minor")
    assert key.tonic_pc == 2
    assert key.pitch_classes == {2, 4, 5, 7, 9, 10, 0}
    for note in range(128):
        assert key.contains(note) == (note % 12 in key.pitch_classes)


@pytest.mark.parametrize(
    ("text", "names"),
    # Common practice, no source: what the trade writes from the tonic up by semitones.
    [
        ("C major", "C Db D Eb E F F# G Ab A Bb B"),
        ("D minor", "D Eb E F F# G G# A Bb B C C#"),
        ("A minor", "A Bb B C C# D D# E F F# G G#"),
        ("E minor", "E F F# G G# A A# B C C# D D#"),
        ("B major", "B C C# D D# E E# F# G G# A A#"),
        ("G# minor", "G# A A# B B# C# C## D# E E# F# F##"),
        ("D# minor", "D# E E# F# F## G# G## A# B B# C# C##"),
        ("Eb minor", "Eb Fb F Gb G Ab A Bb Cb C Db D"),
        ("Ab major", "Ab A Bb Cb C Db D Eb Fb F Gb G"),
        ("Gb major", "Gb G Ab A Bb Cb C Db D Eb Fb F"),
        ("Gb minor", "Gb G Ab Bbb Bb Cb C Db Ebb Eb Fb F"),
        ("F# minor", "F# G G# A A# B B# C# D D# E E#"),
        ("Eb blues", "Eb Fb F Gb G Ab A Bb Cb C Db D"),
        ("Gb minor pentatonic", "Gb G Ab Bbb Bb Cb C Db D Eb Fb F"),
        ("C altered", "C Db D Eb Fb F Gb G Ab A Bb B"),
        ("Gb chromatic", "Gb G Ab A Bb Cb C Db D Eb Fb F"),
    ],
)
def test_spelling_of_the_trade(text, names):
    assert spelled(text) == names.split()


@pytest.mark.parametrize("scale", SCALES, ids=lambda scale: scale.name)
def test_spelling_is_sound_in_every_key(scale):
    for tonic in TONICS:
        key = Key(parse_spelling(tonic), scale)
        assert key.spell(key.tonic_pc) == key.tonic
        for pitch_class in range(12):
            spelling = key.spell(pitch_class)
            assert spelling.pitch_class == pitch_class
            assert spelling.alter >= (-2 if key.contains(pitch_class) else -1)
            assert spelling.alter <= 2
            assert key.spell(pitch_class + 60) == spelling


@pytest.mark.parametrize("scale", [s for s in SCALES if len(s.steps) == 7], ids=lambda s: s.name)
def test_seven_note_scales_use_each_letter_once(scale):
    checked = 0
    for tonic in TONICS:
        key = Key(parse_spelling(tonic), scale)
        raw = [degree_spelling(key.tonic, number, alter) for number, alter in scale.formula]
        if any(abs(spelling.alter) > 2 for spelling in raw):
            continue  # three accidentals are never written: those names change their letter
        letters = {key.spell(pitch_class).letter for pitch_class in key.pitch_classes}
        assert letters == set("ABCDEFG")
        checked += 1
    assert checked >= 15


@pytest.mark.parametrize(("name", "low", "high"), [("major", -1, 5), ("minor", -4, 2)])
def test_the_diatonic_set_spans_seven_fifths(name, low, high):
    # Line of fifths: t-1 to t+5 in major, t-4 to t+2 in natural minor (Temperley 2001, chapter 5).
    for tonic in TONICS:
        key = Key(parse_spelling(tonic), find_scale(name))
        fifths = sorted(key.spell(pitch_class).fifths for pitch_class in key.pitch_classes)
        assert fifths == list(range(key.tonic.fifths + low, key.tonic.fifths + high + 1))


@pytest.mark.parametrize(
    ("text", "signature"),
    # Circle of fifths, common practice; -7 to 7 is the range of the key signature message in the
    # Standard MIDI Files 1.0 specification.
    [
        ("C major", (0, False)),
        ("A minor", (0, True)),
        ("D minor", (-1, True)),
        ("F# dorian", (3, True)),
        ("Bb major", (-2, False)),
        ("C# major", (7, False)),
        ("Cb major", (-7, False)),
        ("Ab minor", (-7, True)),
        ("A# minor", (7, True)),
        ("Gb minor", (3, True)),
        ("G# major", (-4, False)),
        ("B# major", (0, False)),
        ("Fb minor", (1, True)),
        ("G mixolydian", (1, False)),
    ],
)
def test_signature(text, signature):
    assert parse_key(text).signature == signature


@pytest.mark.parametrize("tonic", TONICS)
def test_every_signature_can_be_written_and_has_the_key_s_tonic(tonic):
    for scale in SCALES:
        key = Key(parse_spelling(tonic), scale)
        sharps, minor = key.signature
        assert -7 <= sharps <= 7
        assert Spelling(sharps + (3 if minor else 0)).pitch_class == key.tonic_pc


def test_note_names_and_pretty_names():
    key = parse_key("F# dorian")
    assert key.pretty == "F♯ dorian"
    assert key.note_name(66) == "F#4"
    assert parse_key("Bb dorian b2").pretty == "B♭ dorian ♭2"
    # C4 = 60, so the Cb above B3 is Cb4 = 59 and the B# below C4 is B#3 = 60.
    assert parse_key("Gb major").note_name(59) == "Cb4"
    assert parse_key("C# major").note_name(60) == "B#3"


def test_keys_travel_between_processes():
    key = parse_key("F# phrygian dominant")
    assert pickle.loads(pickle.dumps(key)) == key


@pytest.mark.parametrize("scale", SCALES, ids=lambda scale: scale.name)
def test_the_name_of_every_note_reads_back(scale):
    for fifths in range(-5, 7):
        key = Key(Spelling(fifths), scale)
        for note in range(128):
            for way in (-1, 0, 1):
                assert parse_note(key.note_name(note, way)) == note


@pytest.mark.parametrize("scale", SCALES, ids=lambda scale: scale.name)
def test_spelling_moves_with_the_tonic_unless_accidentals_run_out(scale):
    home = Key(Spelling(0), scale)
    for fifths in range(-5, 7):
        key = Key(Spelling(fifths), scale)
        for step in range(12):
            expected = home.spell(step).fifths + fifths
            found = key.spell(key.tonic_pc + step).fifths
            one_sign = -8 <= expected <= 12  # line of fifths, F flat to B sharp
            assert (found - expected) % 12 == 0
            if one_sign and abs(home.spell(step).alter) < 2:
                assert found == expected
