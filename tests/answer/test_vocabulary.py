"""What kept phrases teach: laws of the score, of copies, of learning and forgetting."""

from __future__ import annotations

import json
import pickle
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from live.answer.vocabulary import (
    MOST_COPIED_BARS,
    MOST_PHRASES,
    READY_PHRASES,
    Vocabulary,
    vocabulary_from_data,
)
from live.clock.metre import Metre
from live.notes.phrase import PhraseNote
from live.theory.errors import FieldError
from live.theory.keys import Key, parse_key
from live.theory.pitch import Spelling

D_MINOR, METRE, BAR = parse_key("D minor"), Metre(), 3840
SCALE = (38, 40, 41, 43, 45, 46, 48, 50)


def line(random: Random, count: int = 10) -> tuple[PhraseNote, ...]:
    """Two bars of bass in D minor by chance."""
    onsets = sorted(random.sample(range(0, 2 * BAR, 480), count))
    return tuple(PhraseNote(o, random.choice((200, 440)), random.choice(SCALE), 90) for o in onsets)


def taught(phrases, key=D_MINOR) -> Vocabulary:
    vocabulary = Vocabulary()
    for phrase in phrases:
        vocabulary = vocabulary.learn(phrase, key, METRE)
    return vocabulary


def moved(notes, semitones: int, ticks: int = 0) -> tuple[PhraseNote, ...]:
    return tuple(
        PhraseNote(n.onset_ticks + ticks, n.length_ticks, n.pitch + semitones, n.velocity)
        for n in notes
    )


def key_up(key: Key, semitones: int) -> Key:
    """The key that many semitones higher, its tonic named with few accidentals."""
    return Key(Spelling(((key.tonic_pc + semitones) * 7 + 5) % 12 - 5), key.scale)


LINES = st.integers(0, 10**6).map(lambda seed: line(Random(seed)))
FEW = st.lists(LINES, min_size=READY_PHRASES, max_size=6, unique=True)


def test_nothing_is_said_before_four_phrases_are_kept():
    phrases = [line(Random(seed)) for seed in range(READY_PHRASES)]
    for count in range(READY_PHRASES):
        early = taught(phrases[:count])
        assert not early.is_ready
        assert early.score(phrases[0], D_MINOR, METRE) == 0
        assert set(early.ear(D_MINOR, METRE).pitch_costs([38], 28, 40)) == {0.0}
        assert early.ear(D_MINOR, METRE).onset_cost([0], 480) == 0
    ready = taught(phrases)
    assert ready.is_ready
    assert ready.score(phrases[0], D_MINOR, METRE) < 0


def test_the_same_phrase_kept_four_times_is_one():
    assert len(taught([line(Random(1))] * READY_PHRASES).phrases) == 1


def test_a_phrase_kept_again_becomes_the_newest():
    first, *others = phrases = [line(Random(seed)) for seed in range(3)]
    again = taught([*phrases, first])
    assert [kept.notes for kept in again.phrases] == [*others, first]


def test_the_oldest_goes_out():
    phrases = [line(Random(seed)) for seed in range(MOST_PHRASES + 2)]
    assert [kept.notes for kept in taught(phrases).phrases] == phrases[2:]


@settings(max_examples=30)
@given(FEW, st.data())
def test_forgetting_is_as_if_it_had_never_been_kept(phrases, data):
    gone = data.draw(st.integers(0, len(phrases) - 1))
    vocabulary = taught(phrases)
    left = vocabulary.forget(vocabulary.phrases[gone].id)
    never = taught(phrases[:gone] + phrases[gone + 1 :])
    assert left == never
    assert left.score(phrases[gone], D_MINOR, METRE) == never.score(phrases[gone], D_MINOR, METRE)


def test_only_what_is_kept_can_be_forgotten():
    with pytest.raises(FieldError, match="none is kept"):
        Vocabulary().forget("0" * 12)
    vocabulary = taught([line(Random(1))])
    with pytest.raises(FieldError, match=vocabulary.phrases[0].id):
        vocabulary.forget("0" * 12)


@settings(max_examples=30)
@given(FEW, LINES, st.integers(-12, 12), st.integers(-12, 12))
def test_key_and_register_do_not_matter(phrases, played, taught_up, played_up):
    """Kept in one key, answered in another: the same bits."""
    here = taught(phrases).score(played, D_MINOR, METRE)
    there = taught([moved(p, taught_up) for p in phrases], key_up(D_MINOR, taught_up))
    found = there.score(moved(played, played_up), key_up(D_MINOR, played_up), METRE)
    assert found == pytest.approx(here)


@settings(max_examples=30)
@given(FEW, st.data())
def test_what_is_kept_is_more_familiar_than_what_is_not(phrases, data):
    """Also more than the same notes and the same rhythm in another order."""
    vocabulary = taught(phrases)
    kept = data.draw(st.sampled_from(phrases))
    random = data.draw(st.randoms(use_true_random=False))
    score = vocabulary.score(kept, D_MINOR, METRE)
    assert score < 0
    chromatic = tuple(
        PhraseNote(at * 640, 640, random.choice((39, 42, 44, 49)), 90) for at in range(10)
    )
    assert score < vocabulary.score(chromatic, D_MINOR, METRE)


@settings(max_examples=30)
@given(FEW, LINES)
def test_a_line_without_notes_yet_scores_the_same(phrases, played):
    ear = taught(phrases).ear(D_MINOR, METRE)
    onsets, lengths, pitches, _ = zip(
        *((n.onset_ticks, n.length_ticks, n.pitch, n.velocity) for n in played), strict=True
    )
    assert ear.score_line(onsets, pitches, lengths) == ear.score(played)


@settings(max_examples=30)
@given(FEW, LINES)
def test_costs_note_by_note_add_up_to_the_score(phrases, played):
    ear = taught(phrases).ear(D_MINOR, METRE)
    onsets = [note.onset_ticks for note in played]
    pitches = [note.pitch for note in played]
    total = 0.0
    for at, pitch in enumerate(pitches):
        total += ear.pitch_costs(pitches[:at], 28, 60)[pitch - 28]
        total += ear.onset_cost(onsets[:at], onsets[at])
    assert total / len(played) == pytest.approx(ear.score_line(onsets, pitches))


@settings(max_examples=30)
@given(FEW, LINES)
def test_octave_doubles_change_nothing(phrases, played):
    def doubled(notes):
        twice = [note for one in notes for note in (one, *moved([one], 12))]
        return tuple(twice)

    plain, double = taught(phrases), taught([doubled(phrase) for phrase in phrases])
    for vocabulary in (plain, double):
        for notes in (played, doubled(played)):
            assert vocabulary.score(notes, D_MINOR, METRE) == plain.score(played, D_MINOR, METRE)
            copied = plain.longest_copy_ticks(played, D_MINOR, METRE)
            assert vocabulary.longest_copy_ticks(notes, D_MINOR, METRE) == copied


def test_no_notes_say_nothing():
    vocabulary = taught([line(Random(seed)) for seed in range(READY_PHRASES)])
    assert vocabulary.score((), D_MINOR, METRE) == 0
    assert vocabulary.longest_copy_ticks((), D_MINOR, METRE) == 0


RIFF = tuple(
    PhraseNote(at * 480, 400, pitch, 90)
    for at, pitch in enumerate((38, 38, 41, 43, 45, 43, 41, 40, 38, 36, 38, 45))
)


@given(st.integers(-10, 10), st.integers(0, 8), st.data())
def test_a_copy_is_found_in_any_key_and_at_any_place(up, late, data):
    first = data.draw(st.integers(0, len(RIFF) - 2))
    last = data.draw(st.integers(first + 1, len(RIFF) - 1))
    copied = moved(RIFF[first : last + 1], up, ticks=480 * late)
    vocabulary = Vocabulary().learn(RIFF, D_MINOR, METRE)
    found = vocabulary.longest_copy_ticks(copied, key_up(D_MINOR, up), METRE)
    assert found == RIFF[last].onset_ticks + 400 - RIFF[first].onset_ticks


def test_another_note_another_step_or_a_single_note_ends_a_copy():
    vocabulary = Vocabulary().learn(RIFF, D_MINOR, METRE)

    def copied(notes):
        return vocabulary.longest_copy_ticks(notes, D_MINOR, METRE)

    whole = copied(RIFF)
    assert whole == RIFF[-1].onset_ticks + 400
    note = PhraseNote(RIFF[6].onset_ticks, 400, 42, 90)
    assert copied((*RIFF[:6], note, *RIFF[7:])) == 5 * 480 + 400
    assert copied((*RIFF[:6], *moved(RIFF[6:], 0, ticks=480))) == 5 * 480 + 400
    octave = PhraseNote(RIFF[6].onset_ticks, 400, RIFF[6].pitch + 12, 90)
    assert copied((*RIFF[:6], octave, *RIFF[7:])) == 5 * 480 + 400
    assert copied(RIFF[:1]) == 0


def test_a_long_phrase_may_be_followed_for_two_bars():
    """The limit that the composer holds a line against."""
    long = tuple(PhraseNote(at * 480, 400, SCALE[at * 5 % 8], 90) for at in range(32))
    vocabulary = Vocabulary().learn(long, D_MINOR, METRE)
    assert vocabulary.longest_copy_ticks(long, D_MINOR, METRE) > MOST_COPIED_BARS * BAR
    part = long[:16]
    assert vocabulary.longest_copy_ticks(part, D_MINOR, METRE) <= MOST_COPIED_BARS * BAR


@settings(max_examples=30)
@given(FEW)
def test_through_json_and_pickle_and_back_is_the_same(phrases):
    vocabulary = taught(phrases)
    score = vocabulary.score(phrases[0], D_MINOR, METRE)
    for again in (
        vocabulary_from_data(json.loads(json.dumps(vocabulary.to_data()))),
        pickle.loads(pickle.dumps(vocabulary)),
    ):
        assert again == vocabulary
        assert again.score(phrases[0], D_MINOR, METRE) == score


def test_pickled_it_is_small():
    vocabulary = taught([line(Random(seed)) for seed in range(MOST_PHRASES)])
    before = len(pickle.dumps(vocabulary))
    vocabulary.score(line(Random(0)), D_MINOR, METRE)
    assert len(pickle.dumps(vocabulary)) == before < 100_000


def test_data_with_too_many_phrases_keeps_the_newest():
    phrases = [line(Random(seed)) for seed in range(MOST_PHRASES + 3)]
    rows = [taught([phrase]).to_data()["phrases"][0] for phrase in phrases]
    found = vocabulary_from_data({"version": 1, "phrases": rows})
    assert [kept.notes for kept in found.phrases] == phrases[3:]


@pytest.mark.parametrize(
    ("data", "field"),
    [
        (None, "vocabulary"),
        ([], "vocabulary"),
        ({"version": 1}, "vocabulary"),
        ({"version": 1, "phrases": {}}, "vocabulary"),
        ({"phrases": []}, "vocabulary version"),
        ({"version": 2, "phrases": []}, "vocabulary version"),
        ({"version": 1, "phrases": [{}]}, "phrase"),
    ],
)
def test_data_that_cannot_be_read_is_named(data, field):
    with pytest.raises(FieldError) as caught:
        vocabulary_from_data(data)
    assert caught.value.field == field
