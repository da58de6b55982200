"""Loops of the trade are heard in the key they begin in, in every transposition.

That a loop is in the key it begins in is common practice, no source; so are the loops themselves
(`tests.study.key_loops`). None of them was learned from.
"""

from __future__ import annotations

import pytest

from live.theory.keyfollow import ChordFollower, LineFollower
from tests.study.key_loops import (
    MAJOR_LOOPS,
    MINOR_LOOPS,
    RIFFS,
    chords_of,
    roots_of,
)

TONICS = range(12)
BARS_S = 4 * 60 / 172


def after_each(heard, stabs=1):
    """The guess after each chord, struck so many times in its bar."""
    follower = ChordFollower()
    guesses = []
    for bar, chord in enumerate(heard):
        for stab in range(stabs):
            for pitch in chord:
                follower.update(pitch, (bar + stab / stabs) * BARS_S)
            for pitch in chord:
                follower.release(pitch)
        guesses.append(follower.guess())
    return guesses


def line(pitches):
    follower = LineFollower()
    for pitch in pitches:
        follower.update(pitch)
    return follower.guess()


def places(guess, count):
    return [(key.tonic_pc, key.scale.is_minor) for key, _ in guess.ranked[:count]]


@pytest.mark.parametrize("tonic", TONICS)
@pytest.mark.parametrize("stabs", [1, 8])
@pytest.mark.parametrize("loop", MINOR_LOOPS)
def test_chords_of_a_minor_loop(loop, stabs, tonic):
    around = chords_of(loop, tonic)
    guesses = after_each(around * 2, stabs)
    assert (tonic, True) in places(guesses[len(around) - 1], 2)
    assert places(guesses[-1], 1) == [(tonic, True)]


@pytest.mark.parametrize("tonic", TONICS)
@pytest.mark.parametrize("loop", MAJOR_LOOPS)
def test_chords_of_a_major_loop(loop, tonic):
    around = chords_of(loop, tonic)
    guesses = after_each(around * 2)
    assert (tonic, False) in places(guesses[len(around) - 1], 2)
    assert places(guesses[-1], 1) == [(tonic, False)]


def tells_its_mode(loop):
    """Whether the roots alone do: I, IV and V stand in major and in minor."""
    return bool({"III", "VI", "VII"} & set(loop.split()))


@pytest.mark.parametrize("tonic", TONICS)
@pytest.mark.parametrize("struck", [1, 8])
@pytest.mark.parametrize("loop", [loop for loop in MINOR_LOOPS if tells_its_mode(loop)])
def test_roots_of_a_minor_loop_alone(loop, struck, tonic):
    around = [root for root in roots_of(loop, tonic) for _ in range(struck)]
    assert places(line(around * 4), 1) == [(tonic, True)]


@pytest.mark.parametrize("tonic", TONICS)
@pytest.mark.parametrize("riff", RIFFS)
def test_bass_riffs_and_drones_in_eighths(riff, tonic):
    guess = line([36 + (tonic + step) % 12 for step in riff] * 4)
    assert places(guess, 1) == [(tonic, True)]
    assert guess.key is not None
