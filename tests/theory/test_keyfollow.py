from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.theory import key_table
from live.theory.errors import FieldError
from live.theory.keyfind import numbered_keys
from live.theory.keyfollow import LOOK_BACK, SURE, ChordFollower, LineFollower
from tests.study import key_filter_fit as filters
from tests.study.key_calm import calmed
from tests.study.key_features import CHORD_BLOCKS, LINE_BLOCKS, width
from tests.study.key_follow_fit import told_chords, told_line
from tests.study.key_heard import Heard

PITCHES = st.lists(st.integers(0, 127), max_size=40)
# i VI iv v in D minor: the chords of Night Ferry.
NIGHT_FERRY = ((50, 62, 65, 69), (46, 62, 65, 70), (43, 62, 67, 70), (45, 64, 69, 72))


def line(pitches):
    follower = LineFollower()
    for pitch in pitches:
        follower.update(pitch)
    return follower.guess()


def chords(heard, length_s=1.0):
    follower = ChordFollower()
    for place, chord in enumerate(heard):
        for pitch in chord:
            follower.update(pitch, place * length_s)
        last = follower.guess()
        for pitch in chord:
            follower.release(pitch)
    return last if heard else follower.guess()


def by_place(guess):
    return {(key.tonic_pc, key.scale.name): chance for key, chance in guess.ranked}


@pytest.mark.parametrize("guess", [line([]), chords([])])
def test_nothing_heard_is_not_sure(guess):
    assert guess.key is None
    assert [chance for _, chance in guess.ranked] == pytest.approx([1 / 24] * 24)


@pytest.mark.parametrize("guess", [line([62]), chords([[62]])])
def test_one_note_is_not_sure(guess):
    assert guess.key is None
    assert 1 / 24 < guess.confidence < SURE


def test_the_key_shows_with_the_evidence():
    walk = [50, 52, 53, 55, 57, 58, 61, 62, 57, 53, 50, 57, 50]
    guess = line(walk)
    assert guess.key is not None
    assert guess.key.name == "D minor"
    assert line(walk[:3]).key is None


def test_night_ferry_is_in_d_minor():
    # No raised seventh tells it from its relative; the way the chords follow each other does.
    for passes in (1, 2, 4):
        assert chords(NIGHT_FERRY * passes).ranked[0][0].name == "D minor"
    assert chords(NIGHT_FERRY * 4).confidence >= SURE
    roots = [chord[0] for chord in NIGHT_FERRY]
    assert line(roots * 2).key.name == "D minor"


def test_a_change_of_key_is_followed():
    here = [(60, 64, 67), (60, 65, 69), (59, 62, 67), (60, 64, 67)]
    there = [tuple(pitch + 6 for pitch in chord) for chord in here]
    assert chords(here * 4).key.name == "C major"
    assert chords(here * 4 + there * 4).key.name == "F# major"
    scale = [60, 62, 64, 65, 67, 69, 71, 72, 67, 64, 60]
    assert line(scale * 3).key.name == "C major"
    assert line(scale * 3 + [pitch + 6 for pitch in scale] * 3).key.name == "F# major"


@given(PITCHES)
def test_chances_are_sorted_and_add_up_to_one(pitches):
    for guess in (line(pitches), chords([[pitch] for pitch in pitches])):
        shares = [share for _, share in guess.ranked]
        assert math.fsum(shares) == pytest.approx(1)
        assert shares == sorted(shares, reverse=True)
        assert len({key.name for key, _ in guess.ranked}) == 24
        assert guess.confidence == shares[0]


@given(st.lists(st.integers(12, 100), max_size=30), st.integers(-12, 24))
def test_transposing_the_notes_transposes_the_answer(pitches, shift):
    moved = [pitch + shift for pitch in pitches]
    for follow in (line, lambda notes: chords([[note, note + 3] for note in notes])):
        before, after = by_place(follow(pitches)), by_place(follow(moved))
        for (tonic, mode), chance in after.items():
            assert chance == pytest.approx(before[((tonic - shift) % 12, mode)], abs=1e-9)


@given(st.permutations([43, 62, 67, 70]))
def test_the_order_within_a_chord_does_not_matter(order):
    rolled = ChordFollower()
    for place, pitch in enumerate(order):
        rolled.update(pitch, 5 + place * 0.009)
    assert by_place(rolled.guess()) == pytest.approx(by_place(chords([(43, 62, 67, 70)])))


def test_a_line_tells_every_octave_alike_but_for_the_way_of_its_leaps():
    assert by_place(line([50, 57, 53])) == pytest.approx(by_place(line([38, 45, 41])))
    assert by_place(line([50, 52, 53])) == pytest.approx(by_place(line([62, 64, 65])))
    fifth_down, fourth_up = by_place(line([57, 50])), by_place(line([45, 50]))
    assert fifth_down != pytest.approx(fourth_up)


def test_what_is_held_counts_until_it_ends():
    held, ended = ChordFollower(), ChordFollower()
    for follower in (held, ended):
        follower.update(50, 0.0)
    ended.release(50)
    for follower in (held, ended):
        follower.update(65, 1.0)
    assert by_place(held.guess()) != pytest.approx(by_place(ended.guess()))


def test_a_release_of_nothing_is_passed_over():
    follower = ChordFollower()
    follower.release(60)
    assert follower.guess() == ChordFollower().guess()


@pytest.mark.parametrize("follower", [LineFollower(), ChordFollower()])
def test_reset_forgets(follower):
    fresh = type(follower)().guess()
    more = (0.0,) if isinstance(follower, ChordFollower) else ()
    follower.update(62, *more)
    assert follower.guess() != fresh
    follower.reset()
    assert follower.guess() == fresh


def test_128_notes_at_once_are_heard():
    guess = chords([range(128)])
    assert math.fsum(chance for _, chance in guess.ranked) == pytest.approx(1)
    assert guess.key is None


def test_a_thousand_repeats_stay_finite():
    guess = line([62] * 1000)
    assert math.isfinite(guess.confidence)
    assert guess.ranked[-1][1] > 0


@pytest.mark.parametrize("pitch", [-1, 128])
def test_pitches_are_midi_notes(pitch):
    with pytest.raises(FieldError, match=r"pitch.*0 to 127"):
        LineFollower().update(pitch)
    with pytest.raises(FieldError, match=r"pitch.*0 to 127"):
        ChordFollower().update(pitch, 0.0)


@pytest.mark.parametrize("at_s", [math.nan, math.inf])
def test_times_are_finite(at_s):
    with pytest.raises(FieldError, match=r"at_s.*finite"):
        ChordFollower().update(60, at_s)


def test_a_chord_struck_again_tells_nothing_new():
    plain, again = ChordFollower(), ChordFollower()
    for place, chord in enumerate(NIGHT_FERRY):
        for pitch in chord:
            plain.update(pitch, float(place))
        for stab in range(8):
            for pitch in chord:
                again.update(pitch, place + stab / 8)
            for pitch in chord:
                again.release(pitch)
        for pitch in chord:
            plain.release(pitch)
        assert by_place(again.guess()) == pytest.approx(by_place(plain.guess()))
        for back in range(min(place, LOOK_BACK) + 1):
            assert by_place(again.guess(back)) == pytest.approx(by_place(plain.guess(back)))


def test_the_same_chord_tells_again_where_a_phrase_begins():
    once, twice = ChordFollower(), ChordFollower()
    for follower in (once, twice):
        for place, pitch in enumerate((60, 62, 64)):
            follower.update(pitch, float(place))
    twice.update(64, 2 + 10.0)
    assert by_place(once.guess()) != pytest.approx(by_place(twice.guess()))


def test_a_note_struck_a_third_time_tells_nothing_new():
    assert by_place(line([62, 57, 57])) != pytest.approx(by_place(line([62, 57])))
    assert by_place(line([62, 57, 57, 69, 45])) == pytest.approx(by_place(line([62, 57, 57])))


def test_looking_back_knows_what_came_since():
    # The first chord alone could be IV of C or I of F; the cadence that follows says C.
    follower = ChordFollower()
    for place, chord in enumerate(((53, 60, 65, 69), (55, 62, 65, 71), (48, 60, 64, 67))):
        for pitch in chord:
            follower.update(pitch, float(place))
        if place == 0:
            at_first = by_place(follower.guess())
        for pitch in chord:
            follower.release(pitch)
    looked = by_place(follower.guess(2))
    assert looked[(0, "major")] > at_first[(0, "major")]
    assert follower.guess(0) == follower.guess()


def test_looking_back_further_than_there_is_gives_the_first():
    follower = ChordFollower()
    assert follower.guess(2) == follower.guess()
    follower.update(62, 0.0)
    assert follower.guess(2) == follower.guess(1) == follower.guess()


@given(PITCHES, st.integers(0, LOOK_BACK))
def test_chances_looked_back_on_add_up_to_one(pitches, back):
    follower = ChordFollower()
    for place, pitch in enumerate(pitches):
        follower.update(pitch, place / 4)
    assert math.fsum(chance for _, chance in follower.guess(back).ranked) == pytest.approx(1)


@pytest.mark.parametrize("back", [-1, LOOK_BACK + 1])
def test_only_what_is_kept_can_be_looked_back_on(back):
    with pytest.raises(FieldError, match=r"back.*0 to 2 onsets"):
        ChordFollower().guess(back)


@pytest.mark.parametrize(
    "chances",
    [key_table.LINE_MOVES, *key_table.CHORDS_MOVES, key_table.LINE_HOME, key_table.CHORDS_HOME],
)
def test_the_chances_of_moving_add_up_to_one(chances):
    assert sum(chances) == pytest.approx(1, abs=1e-4)


def weights(name, blocks):
    rows = [np.reshape(getattr(key_table, f"{name}_{block}"), (2, -1)) for block in blocks]
    moves = np.atleast_2d(getattr(key_table, f"{name}_MOVES"))
    return filters.Weights(np.hstack(rows).T, moves, np.array(getattr(key_table, f"{name}_HOME")))


@given(st.lists(st.integers(36, 60), min_size=1, max_size=30))
def test_lines_are_weighed_as_they_were_learned(pitches):
    told = told_line(pitches, 0, [1.0] * len(pitches))
    heard = Heard([told], width(LINE_BLOCKS))
    after = filters.follow_home(weights("LINE", LINE_BLOCKS), heard)[0][-1]
    assert by_place(line(pitches)) == pytest.approx(named(after, key_table.CALM[0]), abs=1e-5)


ONSETS = st.lists(
    st.tuples(st.sampled_from([0.25, 0.5, 1.0, 4.0]), st.sets(st.integers(40, 60), min_size=1)),
    min_size=1,
    max_size=12,
)


@given(ONSETS)
def test_chords_are_weighed_as_they_were_learned(struck):
    times = np.cumsum([gap for gap, _ in struck])
    chorale = [(float(t), sorted(s), sorted(s)) for t, (_, s) in zip(times, struck, strict=True)]
    told = told_chords(chorale, np.zeros(len(chorale), int), 1.0)
    heard = Heard([told], width(CHORD_BLOCKS))
    learned = weights("CHORDS", CHORD_BLOCKS)
    follower = ChordFollower()
    for at_s, pitches, _ in chorale:
        for pitch in pitches:
            follower.update(pitch, at_s)
        now = follower.guess()
        for pitch in pitches:
            follower.release(pitch)
    after = filters.follow(learned, heard)[0][-1]
    assert by_place(now) == pytest.approx(named(after, key_table.CALM[1]), abs=1e-5)
    back = min(LOOK_BACK, len(told.keys) - 1)
    known = filters.look_back(learned, heard, back)[0][-1 - back]
    looked = follower.guess(back)
    assert by_place(looked) == pytest.approx(named(known, key_table.CALM[1]), abs=1e-5)


def named(chances, calm):
    made = calmed(chances, calm)
    return {(key.tonic_pc, key.scale.name): made[index] for index, key in numbered_keys()}
