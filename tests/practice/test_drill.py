"""The drill against a reference library's scales, and the laws of its score and schedule."""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import scale as m21_scale

from live.practice.drill import (
    Tally,
    after,
    ask,
    asked_degree,
    asked_note,
    judge,
    since,
    start_drill,
    total,
    weakest,
)
from live.theory.keys import Key, parse_key
from live.theory.scales import SCALES

VERDICTS = ("right", "close", "wrong")
KEYS = ["D minor", "F# dorian", "Bb major", "C", "Eb phrygian", "A harmonic minor"]
M21 = {
    "D minor": m21_scale.MinorScale("d"),
    "F# dorian": m21_scale.DorianScale("f#"),
    "Bb major": m21_scale.MajorScale("b-"),
    "C": m21_scale.MajorScale("c"),
    "Eb phrygian": m21_scale.PhrygianScale("e-"),
    "A harmonic minor": m21_scale.HarmonicMinorScale("a"),
}


@pytest.mark.parametrize("text", KEYS)
def test_the_right_note_of_each_place_is_the_reference_librarys_degree(text):
    # Source: music21, Scale.pitchFromDegree.
    key = parse_key(text)
    for place in range(7):
        expected = M21[text].pitchFromDegree(place + 1)
        for octave in (36, 60, 84):
            verdict = judge(key, place, octave + expected.pitchClass).verdict
            assert verdict == "right"
        assert key.spell(asked_note(key, place)).name == expected.name.replace("-", "b")


@pytest.mark.parametrize("text", KEYS)
def test_every_note_is_judged_by_its_distance_round_the_octave(text):
    key = parse_key(text)
    for place in range(7):
        for note in range(128):
            steps = (note - asked_note(key, place)) % 12
            wanted = "right" if steps == 0 else "close" if steps in (1, 11) else "wrong"
            assert judge(key, place, note).verdict == wanted


def test_words_name_what_was_asked_and_what_was_played():
    key = parse_key("D minor")
    assert judge(key, 2, 65).words == "right: b3 is F, the mediant"
    assert judge(key, 2, 64).words == "close: E is the 2; b3 is F, a half step higher"
    assert judge(key, 1, 65).words == "close: F is the b3; 2 is E, a half step lower"
    assert judge(key, 2, 69).words == "wrong: A is the 5; b3 is F, the mediant"


def test_plain_labels_are_used_when_wanted():
    key = parse_key("D minor")
    assert judge(key, 2, 65, "plain").words == "right: 3 is F, the mediant"


def test_asked_notes_lie_within_an_octave_of_the_tonic_next_to_middle_c():
    for scale in SCALES:
        for tonic in ("C", "F#", "Bb", "E"):
            key = Key(parse_key(tonic).tonic, scale)
            notes = [asked_note(key, place) for place in range(len(scale.steps))]
            assert 54 <= notes[0] <= 65
            assert notes == sorted(notes)
            assert notes[-1] - notes[0] < 12
            assert all(key.contains(note) for note in notes)


def test_weakness_is_the_rule_of_succession():
    # Source: Laplace's rule of succession, (s + 1) / (n + 2) for the chance of success.
    assert Tally().weakness == pytest.approx(1 / 2)
    assert Tally(right=3).weakness == pytest.approx(1 - 4 / 5)
    assert Tally(wrong=3).weakness == pytest.approx(1 - 1 / 5)
    assert Tally(close=2).weakness == pytest.approx(1 - 2 / 4)


@given(st.lists(st.sampled_from(VERDICTS), max_size=60), st.integers())
def test_score_counts_every_answer_once_and_no_degree_comes_twice_running(verdicts, seed):
    chance = random.Random(seed)
    drill = start_drill(parse_key("D minor"))
    before = None
    for verdict in verdicts:
        place = ask(drill, chance)
        assert place != before
        assert 0 <= place < 7
        drill = after(drill, place, verdict)
        before = place
    score = total(drill.tallies)
    assert (score.right, score.close, score.wrong) == tuple(map(verdicts.count, VERDICTS))
    assert score.asked == len(verdicts)


def test_a_degree_always_missed_is_asked_far_more_often():
    chance = random.Random(1)
    drill = start_drill(parse_key("D minor"))
    asked = [0] * 7
    for _ in range(2000):
        place = ask(drill, chance)
        asked[place] += 1
        drill = after(drill, place, "wrong" if place == 4 else "right")
    others = [n for place, n in enumerate(asked) if place != 4]
    assert asked[4] > 2 * max(others)
    assert min(others) > 0  # the strong ones still come
    assert weakest(drill) == 4


def test_every_scale_can_be_drilled_and_every_degree_of_it_is_asked():
    tonic = parse_key("F#").tonic
    for scale in SCALES:
        chance = random.Random(3)
        drill, asked = start_drill(Key(tonic, scale)), set()
        for _ in range(300):
            place = ask(drill, chance)
            asked.add(place)
            verdict = judge(drill.key, place, asked_note(drill.key, place)).verdict
            assert verdict == "right"
            drill = after(drill, place, verdict)
        assert asked == set(range(len(scale.steps)))


def test_same_seed_asks_the_same_and_another_seed_does_not():
    def questions(seed):
        chance, drill, places = random.Random(seed), start_drill(parse_key("C")), []
        for _ in range(30):
            places.append(ask(drill, chance))
            drill = after(drill, places[-1], "right")
        return places

    assert questions(5) == questions(5)
    assert questions(5) != questions(6)


def test_nothing_is_weak_while_all_is_right():
    drill = start_drill(parse_key("C"))
    assert weakest(drill) is None
    assert weakest(after(drill, 3, "right")) is None
    assert weakest(after(drill, 3, "close")) == 3


def test_degrees_are_named():
    key = parse_key("D minor")
    labels = [asked_degree(key, place).label() for place in range(7)]
    assert labels == ["1", "2", "b3", "4", "5", "b6", "b7"]


@given(st.lists(st.sampled_from([(p, v) for p in range(7) for v in VERDICTS])))
def test_what_was_answered_since_is_what_was_answered(answers):
    begun = after(after(start_drill(parse_key("D minor")), 0, "wrong"), 3, "right")
    drill = begun
    for place, verdict in answers:
        drill = after(drill, place, verdict)
    played = since(begun.tallies, drill.tallies)
    for place, tally in enumerate(played):
        for verdict in VERDICTS:
            assert getattr(tally, verdict) == answers.count((place, verdict))
