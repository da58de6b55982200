"""Following the key of lines and chords with one follower."""

from __future__ import annotations

import random

import pytest

from live.theory.errors import FieldError
from live.theory.keyfollow import ChordFollower, KeyGuess, LineFollower
from live.theory.playfollow import PlayingFollower
from tests.study.key_corpus import load_tunes

LOOP = ((50, 57, 62, 65), (46, 58, 62, 65), (43, 58, 62, 67), (45, 57, 60, 64))


def _chances(guess: KeyGuess) -> dict[str, float]:
    return {key.name: chance for key, chance in guess.ranked}


def test_before_a_note_every_key_is_as_likely() -> None:
    assert list(_chances(PlayingFollower().guess()).values()) == pytest.approx([1 / 24] * 24)


def test_a_long_line_is_heard_as_the_line_follower_hears_it() -> None:
    both, line, rng = PlayingFollower(), LineFollower(), random.Random(3)
    for i in range(200):
        pitch = rng.choice((62, 64, 65, 67, 69, 70, 72))
        both.update(pitch, i / 4)
        both.release(pitch)
        line.update(pitch)
    assert _chances(both.guess()) == pytest.approx(_chances(line.guess()), abs=1e-9)


def test_chords_are_heard_as_the_chord_follower_hears_them() -> None:
    both, chords = PlayingFollower(), ChordFollower()
    for bar in range(32):
        for follower in (both, chords):
            for pitch in (*LOOP[bar % 4], 74):
                follower.update(pitch, float(bar))
        for pitch in LOOP[bar % 4]:  # the top note lies through: nothing is ever alone
            both.release(pitch)
            chords.release(pitch)
    assert _chances(both.guess()) == pytest.approx(_chances(chords.guess()), abs=0.02)


def test_chances_add_up_and_ranks_fall() -> None:
    follower, rng = PlayingFollower(), random.Random(9)
    for i in range(300):
        follower.update(rng.randrange(128), i / 10)
        if rng.random() < 0.8:
            follower.release(rng.randrange(128))
        ranked = [chance for _, chance in follower.guess().ranked]
        assert sum(ranked) == pytest.approx(1)
        assert ranked == sorted(ranked, reverse=True)


def test_forgetting_begins_anew() -> None:
    follower = PlayingFollower()
    follower.update(60, 0.0)
    follower.reset()
    assert follower.guess() == PlayingFollower().guess()


@pytest.mark.parametrize(("pitch", "at_s"), [(128, 0.0), (-1, 0.0), (60, float("nan"))])
def test_what_is_no_note_is_refused_and_changes_nothing(pitch: int, at_s: float) -> None:
    follower = PlayingFollower()
    with pytest.raises(FieldError):
        follower.update(pitch, at_s)
    assert follower.guess() == PlayingFollower().guess()


def test_tunes_of_one_voice_are_heard_in_their_key() -> None:
    """Ryan's Mammoth Collection (1883), from music21's corpus; keys as printed.

    The line alone finds 84 % after 32 notes; chord weights alone find 68 %.
    """
    tunes = [tune for tune in load_tunes("ryansMammoth") if tune.minor is not None][::10]
    right = 0
    for tune in tunes:
        follower = PlayingFollower()
        for onset, _, pitch in tune.notes[:32]:
            follower.update(pitch, onset)
            follower.release(pitch)
        best = follower.guess().ranked[0][0]
        right += (best.tonic_pc, best.scale.is_minor) == (tune.tonic, bool(tune.minor))
    assert len(tunes) > 90
    assert right / len(tunes) > 0.78
