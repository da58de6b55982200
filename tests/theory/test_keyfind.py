from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.theory.errors import FieldError
from live.theory.keyfind import (
    PROBABILITY_FLOOR,
    confidence,
    find_key,
    find_piece_key,
    rank_keys,
)
from live.theory.keys import parse_key
from live.theory.profiles import ALBRECHT_SHANAHAN_MAJOR, ALBRECHT_SHANAHAN_MINOR

WEIGHTS = st.lists(st.floats(0, 50), min_size=12, max_size=12)


def best(weights):
    return rank_keys(weights)[0][0].name


def test_there_are_24_keys_in_the_spelling_of_the_trade():
    # Circle of fifths: the signatures with at most six sharps or flats (common practice).
    names = {key.name for key, _ in rank_keys([0.0] * 12)}
    majors = ["Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#"]
    minors = ["Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#", "G#"]
    assert names == {f"{t} major" for t in majors} | {f"{t} minor" for t in minors}


def test_nothing_heard_means_no_idea():
    ranked = rank_keys([0.0] * 12)
    assert [p for _, p in ranked] == pytest.approx([1 / 24] * 24)
    assert confidence(ranked) == pytest.approx(1 / 24)
    assert find_key([]) == ranked


def test_one_note_reads_the_profile_itself():
    # One C: p(key | C) is the profile's share of C in that key over the sum of all (Bayes, flat
    # prior); shares from Albrecht & Shanahan 2013, each row divided by its sum.
    weights = [1.0] + [0.0] * 11
    rows = {False: ALBRECHT_SHANAHAN_MAJOR, True: ALBRECHT_SHANAHAN_MINOR}
    for key, probability in rank_keys(weights):
        row = rows[key.scale.is_minor]
        assert probability == pytest.approx(row[-key.tonic_pc % 12] / sum(row) / 2)
    assert best(weights) == "C major"


@pytest.mark.parametrize(
    ("weights", "name"),
    [
        # "Happy birthday" as a histogram in the source of music21, which finds F major.
        ([9, 0, 3, 0, 2, 5, 0, 2, 0, 2, 2, 0], "F major"),
        # Second worked histogram of the same comparison.
        ([7, 0, 5, 0, 7, 16, 0, 16, 0, 15, 6, 0], "F major"),
        # Scales heard evenly with a long tonic and dominant (common practice, no source).
        ([3, 0, 1, 0, 1, 1, 0, 2, 0, 1, 0, 1], "C major"),
        ([1, 1, 3, 0, 1, 1, 0, 1, 0, 2, 1, 0], "D minor"),
    ],
)
def test_worked_examples(weights, name):
    assert best(weights) == name


def test_night_ferry_s_chords_are_in_d_minor():
    # i VI iv v in D minor, three notes each, the roots doubled in the bass.
    chords = ((50, 62, 65, 69), (46, 62, 65, 70), (43, 62, 67, 70), (45, 64, 69, 72))
    ranked = find_key([(note, 8.0) for chord in chords for note in chord])
    assert ranked[0][0].name == "D minor"
    assert 0.0 < confidence(ranked) < 1.0


@given(WEIGHTS)
def test_probabilities_are_sorted_and_add_up_to_one(weights):
    ranked = rank_keys(weights)
    shares = [share for _, share in ranked]
    assert math.fsum(shares) == pytest.approx(1.0)
    assert shares == sorted(shares, reverse=True)
    assert len({key.name for key, _ in ranked}) == 24
    assert confidence(ranked) == shares[0]


@given(WEIGHTS, st.integers(0, 11))
def test_transposing_the_notes_transposes_the_answer(weights, shift):
    moved = [weights[(pc - shift) % 12] for pc in range(12)]
    plain = {(k.tonic_pc, k.scale.name): p for k, p in rank_keys(weights)}
    for key, share in rank_keys(moved):
        before = plain[((key.tonic_pc - shift) % 12, key.scale.name)]
        assert share == pytest.approx(before, abs=1e-9)


@given(
    st.lists(st.tuples(st.integers(0, 127), st.floats(0.1, 8)), min_size=1, max_size=20),
    st.floats(0.01, 100),
)
def test_the_unit_of_length_does_not_matter(notes, unit):
    plain = {key.name: share for key, share in find_key(notes)}
    for key, share in find_key([(note, length * unit) for note, length in notes]):
        assert share == pytest.approx(plain[key.name], abs=1e-9)


def test_notes_of_one_length_are_counted():
    counts = [0.0] * 12
    notes = [62, 65, 69, 74, 72, 70, 62]
    for note in notes:
        counts[note % 12] += 1
    expected = {key.name: share for key, share in rank_keys(counts)}
    for key, share in find_key([(note, 0.25) for note in notes]):
        assert share == pytest.approx(expected[key.name])


def test_notes_without_length_tell_nothing():
    assert find_key([(62, 0.0), (65, 0.0)]) == rank_keys([0.0] * 12)


def test_more_evidence_for_the_same_thing_means_more_confidence():
    triad = [0.0] * 12
    for pitch_class in parse_key("D minor").pitch_classes:
        triad[pitch_class] = 1.0
    triad[2] = 3.0
    few, many = rank_keys(triad), rank_keys([4 * weight for weight in triad])
    assert few[0][0] == many[0][0]
    assert confidence(many) > confidence(few)


def test_no_share_is_below_the_floor():
    assert min(*ALBRECHT_SHANAHAN_MAJOR, *ALBRECHT_SHANAHAN_MINOR) > PROBABILITY_FLOOR > 0


@pytest.mark.parametrize("weights", [[1.0] * 11, [1.0] * 13, []])
def test_twelve_weights_are_wanted(weights):
    with pytest.raises(FieldError, match=r"pitch-class weights.*12 values"):
        rank_keys(weights)


@pytest.mark.parametrize("bad", [-0.1, math.nan, math.inf])
def test_weights_are_finite_and_not_negative(bad):
    with pytest.raises(FieldError, match=r"note weight.*finite"):
        rank_keys([bad] + [1.0] * 11)
    with pytest.raises(FieldError, match=r"note weight.*finite"):
        find_key([(60, 1.0), (60, bad)])


PIECES = st.lists(
    st.tuples(st.integers(0, 64).map(lambda n: n / 4), st.floats(0, 8), st.integers(24, 100)),
    max_size=30,
)


def named(ranked):
    return {(key.tonic_pc, key.scale.name): share for key, share in ranked}


def test_a_piece_without_notes_is_in_no_key():
    assert [share for _, share in find_piece_key([])] == pytest.approx([1 / 24] * 24)


def test_one_note_is_not_called_certain():
    ranked = find_piece_key([(0.0, 1.0, 62)])
    assert ranked[0][0].tonic_pc == 2
    assert 1 / 24 < confidence(ranked) < 0.5


def test_night_ferry_as_a_piece_is_in_d_minor():
    # Four bars that end on v leave B flat major open; once it has come home there is no doubt.
    chords = ((50, 62, 65, 69), (46, 62, 65, 70), (43, 62, 67, 70), (45, 64, 69, 72))
    bars = [*chords, *chords, chords[0]]
    notes = [(4.0 * bar, 4.0, pitch) for bar, chord in enumerate(bars) for pitch in chord]
    assert find_piece_key(notes)[0][0].name == "D minor"


def test_the_end_decides_between_relatives():
    # The white keys evenly, once up to C and once down to A (common practice, no source).
    white = [60, 62, 64, 65, 67, 69, 71]
    up = [*white, 72]
    down = [69, 71, 72, 74, 76, 77, 79, 81, 69]
    for pitches, name in ((up, "C major"), (down, "A minor")):
        notes = [(float(at), 1.0, pitch) for at, pitch in enumerate(pitches)]
        assert find_piece_key(notes)[0][0].name == name


@given(PIECES)
def test_a_piece_has_every_key_and_all_chances(notes):
    shares = [share for _, share in find_piece_key(notes)]
    assert math.fsum(shares) == pytest.approx(1.0)
    assert shares == sorted(shares, reverse=True)
    assert len(shares) == 24


@given(PIECES, st.integers(-12, 12))
def test_a_transposed_piece_is_in_the_transposed_key(notes, shift):
    moved = [(onset, length, pitch + shift) for onset, length, pitch in notes]
    plain = named(find_piece_key(notes))
    for (tonic, mode), share in named(find_piece_key(moved)).items():
        assert share == pytest.approx(plain[((tonic - shift) % 12, mode)], abs=1e-9)


@given(PIECES, st.randoms(use_true_random=False))
def test_the_order_of_the_list_does_not_matter(notes, rng):
    mixed = list(notes)
    rng.shuffle(mixed)
    assert named(find_piece_key(mixed)) == pytest.approx(named(find_piece_key(notes)))


@pytest.mark.parametrize(
    ("bad", "field"),
    [
        ((math.nan, 1.0, 60), "note onset"),
        ((0.0, -1.0, 60), "note weight"),
        ((0.0, math.inf, 60), "note weight"),
    ],
)
def test_onsets_and_lengths_are_checked(bad, field):
    with pytest.raises(FieldError, match=field):
        find_piece_key([(0.0, 1.0, 62), bad])
