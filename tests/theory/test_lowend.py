from __future__ import annotations

from itertools import combinations, product

import pytest

from live.theory.errors import FieldError
from live.theory.keys import parse_key
from live.theory.low_limits import LOW_LIMITS, TEXTS_DIFFER_BY, low_limit
from live.theory.lowend import MAX_NOTES, low_end
from live.theory.pitch import parse_note

KEY = parse_key("D minor")
BADNESS = ("clear", "thick", "muddy")


def notes(text):
    return [parse_note(name) for name in text.split()]


@pytest.mark.parametrize(("semitones", "limit"), LOW_LIMITS.items())
def test_verdicts_agree_with_the_limits_on_every_row(semitones, limit):
    # Low interval limits, a public glossary of arranging.
    for low in range(127 - semitones):
        verdict = low_end([low, low + semitones]).verdict
        if low >= limit:
            assert verdict == "clear"
        elif low >= limit - TEXTS_DIFFER_BY:
            assert verdict == "thick"
        else:
            assert verdict == "muddy"


def test_octaves_are_always_clear():
    for low in range(128 - 12):
        assert low_end([low, low + 12]).verdict == "clear"


@pytest.mark.parametrize("shape", list(combinations(range(1, 20), 2)))
def test_climbing_never_makes_it_worse(shape):
    verdicts = [
        BADNESS.index(low_end([low, *(low + step for step in shape)]).verdict)
        for low in range(20, 80)
    ]
    assert verdicts == sorted(verdicts, reverse=True)


@pytest.mark.parametrize(
    ("text", "verdict", "reason", "advice"),
    # Common practice, no source: triads low in the bass are muddy, fifths and octaves carry.
    [
        ("D2 D4 F4 A4", "clear", "", ""),
        ("D2 D3 F3 A3", "clear", "", ""),
        ("D2 A2 F3", "clear", "", ""),
        (
            "D2 F2 A2",
            "muddy",
            "D2 and F2: a minor third is clear from C3 up; here they are 0.4 critical bands apart",
            "move F2 up an octave",
        ),
        (
            "Bb2 D3",
            "thick",
            "Bb2 and D3: a major third is clear from B2 up; here they are 0.8 critical bands apart",
            "move D3 up an octave",
        ),
        (
            "E1 G2",
            "thick",
            (
                "E1 and G2: a minor third and an octave is clear from C2 up; here they are 1.8"
                " critical bands apart"
            ),
            "move G2 up an octave",
        ),
        (
            "A1 E2 A2 C3 E3",
            "muddy",
            "A1 and E2: a fifth is clear from C#2 up; here they are 0.9 critical bands apart",
            "leave out E2 and move C3 up an octave",
        ),
    ],
)
def test_voicings(text, verdict, reason, advice):
    found = low_end(notes(text))
    assert found.verdict == verdict
    assert found.reason(KEY) == reason
    assert found.advice(KEY) == advice


def test_the_move_clears_it_and_no_smaller_one_does():
    tried = 0
    for low, shape in product(range(24, 56, 3), combinations((3, 4, 7, 10, 12, 15), 3)):
        voicing = (low, *(low + step for step in shape))
        found = low_end(voicing)
        if found.verdict == "clear":
            assert found.moves == found.clashes == ()
            assert found.moved == voicing
            continue
        tried += 1
        assert low_end(found.moved).verdict == "clear"
        assert {note % 12 for note in found.moved} == {note % 12 for note in voicing}
        assert (found.moved[0] - low) % 12 == 0  # the bass stays the bass
        if len(found.moves) > 1:
            for note, octaves in product(voicing, (-24, -12, 12, 24)):
                other = [n for n in voicing if n != note] + [note + octaves]
                bass_kept = (min(other) - low) % 12 == 0
                assert not bass_kept or low_end(other).verdict != "clear"
    assert tried > 50


def test_the_worst_clash_comes_first():
    clashes = low_end(notes("D2 F2 A2 Bb2")).clashes
    assert len(clashes) >= 3
    for clash in clashes:
        assert clash.low < clash.limit == low_limit(clash.high - clash.low)
    muddy = [clash.verdict == "muddy" for clash in clashes]
    assert muddy == sorted(muddy, reverse=True)
    rough = [clash.roughness for clash in clashes if clash.verdict == "muddy"]
    assert rough == sorted(rough, reverse=True)


def test_no_move_is_told_where_none_is_small():
    cluster = low_end(range(24, 34))
    assert cluster.verdict == "muddy"
    assert cluster.moves == ()
    assert cluster.advice(KEY) == ""


def test_order_and_repeats_do_not_matter():
    assert low_end([45, 38, 41, 41]) == low_end([38, 41, 45])
    assert low_end([]).verdict == low_end([30]).verdict == "clear"


@pytest.mark.parametrize("wrong", [[-1, 40], [40, 128], list(range(40, 41 + MAX_NOTES))])
def test_bad_notes_say_what_is_allowed(wrong):
    with pytest.raises(FieldError, match="up to 10 MIDI notes from 0 to 127"):
        low_end(wrong)
