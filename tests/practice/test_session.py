"""A practice: what may be asked, what counts, when the next question comes."""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import key as m21_key
from music21 import roman as m21_roman

from live.practice.drill import start_drill
from live.practice.questions import ASKS, next_question
from live.practice.session import SHOWN_AFTER, Practice, Score
from live.theory.keys import parse_key
from live.theory.progressions import parse_progression

KEY = parse_key("D minor")
LOOP = [(s.text, s.chord) for s in parse_progression("i VI iv V", KEY).stretches]


def practice(seed: int = 1, **asked: object) -> Practice:
    return Practice(start_drill(KEY), random.Random(seed), **asked)


@pytest.mark.parametrize("asks", ASKS)
@given(seed=st.integers(0, 10_000))
def test_no_note_is_asked_twice_in_a_row(asks, seed):
    chance, before = random.Random(seed), None
    for _ in range(12):
        question = next_question(start_drill(KEY), asks, LOOP, before, chance)
        assert before is None or (question.note - before.note) % 12
        before = question


def test_chord_tones_are_those_of_the_reference_library():
    # Source: music21, roman.RomanNumeral; V has the raised seventh, C sharp.
    seen: dict[str, set[int]] = {}
    chance, before = random.Random(3), None
    for _ in range(400):
        before = next_question(start_drill(KEY), "chord tones", LOOP, before, chance)
        seen.setdefault(before.chord, set()).add(before.note % 12)
    for text, notes in seen.items():
        expected = m21_roman.RomanNumeral(text, m21_key.Key("d"))
        assert notes == {pitch.pitchClass for pitch in expected.pitches}, text
    assert len(seen) == 4


def test_a_tone_outside_the_scale_is_asked_and_belongs_to_no_degree():
    chance = random.Random(0)
    found = [next_question(start_drill(KEY), "chord tones", LOOP, None, chance) for _ in range(200)]
    raised = next(one for one in found if one.note % 12 == 1)
    assert (raised.place, raised.chord, raised.role) == (None, "V", "3")
    assert raised.label(KEY, "major") == "3 of V"


def test_without_a_progression_chord_tones_are_degrees():
    assert next_question(start_drill(KEY), "chord tones", (), None, random.Random(1)).chord == ""


@given(seed=st.integers(0, 10_000), notes=st.lists(st.integers(0, 127), max_size=40))
def test_only_the_first_try_counts_and_a_right_one_brings_the_next_question(seed, notes):
    one = practice(seed, asks="both", chords=LOOP)
    right = asked = tries = 0
    for note in notes:
        wanted = one.question.note
        judged = one.play(note)
        is_right = (note - wanted) % 12 == 0
        assert (judged.verdict == "right") == is_right
        asked += tries == 0
        right += tries == 0 and is_right
        tries = 0 if is_right else tries + 1
        assert (one.question.note % 12 == wanted % 12) != is_right
        assert (one.shown is not None) == (tries >= SHOWN_AFTER)
    assert (one.score.right, one.score.asked) == (right, asked)


def test_the_right_note_is_shown_after_two_tries():
    one = practice()
    wrong = one.question.note + 6
    named = f"{one.label} is "
    one.play(wrong)
    assert one.shown is None
    assert one.words.startswith("wrong: ")
    assert named not in one.words
    one.play(wrong)
    assert one.shown == one.question.note % 12
    assert named in one.words


def test_a_near_miss_says_the_way_and_not_the_note():
    one = practice()
    one.play(one.question.note - 1)
    assert one.words.endswith("; go a half step higher")


def test_what_is_not_played_in_time_is_missed_and_counts_as_wrong():
    one = practice()
    asked = one.question
    one.time_up()
    assert one.outcome == "missed"
    assert one.words.startswith("missed: ")
    assert one.score == Score(0, 1, 0)
    assert asked.place is not None
    assert one.drill.tallies[asked.place].wrong == 1
    assert one.question.note % 12 != asked.note % 12


def test_time_up_after_a_wrong_try_does_not_count_twice():
    one = practice()
    one.play(one.question.note + 6)
    one.time_up()
    assert one.score.asked == 1
    assert one.outcome == "wrong"


def test_leaving_a_question_counts_nothing():
    one = practice()
    before = one.question
    one.leave()
    assert (one.score, one.words) == (Score(), "")
    assert one.question != before


def test_right_ones_in_a_row():
    one = practice()
    for count in range(1, 5):
        one.play(one.question.note)
        assert one.score.in_a_row == count
    one.play(one.question.note + 6)
    assert one.score == Score(4, 5, 0)
