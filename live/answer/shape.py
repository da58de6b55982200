"""Shaping: how long and how loud each note of a line is."""

from __future__ import annotations

from itertools import pairwise
from random import Random
from typing import Final

from live.answer.facts import Facts
from live.answer.line import OCTAVE
from live.clock.units import TICKS_PER_BEAT, TICKS_PER_SIXTEENTH
from live.notes.phrase import PhraseNote

# Accents are our own taste (common practice: the kick and the one are played hardest).
_ONE, _KICK, _BEAT, _EIGHTH, _SHORT, _LAST = 1.0, 0.97, 0.9, 0.84, 0.7, 0.95
_LEAST_LOUDNESS: Final = 0.8
_UNEVEN: Final = 0.02

_BREATH: Final = TICKS_PER_SIXTEENTH // 4
_REPEAT_SHARE: Final = 0.7
_LONGEST: Final = 2 * TICKS_PER_BEAT


def shape(facts: Facts, rng: Random) -> tuple[PhraseNote, ...]:
    """Give a line its lengths and velocities.

    Notes end before the next onset, repeated notes sooner so that they speak, and before a
    snare where at least an eighth is left; the last note rings. Velocities follow the accents,
    a little the call's own loudness, and never pass the brief's limit.

    Thread: any; pure.
    """
    notes = zip(facts.onsets, facts.pitches, _lengths(facts), strict=True)
    return tuple(
        PhraseNote(onset, length, pitch, _velocity(facts, onset, rng))
        for onset, pitch, length in notes
    )


def _lengths(facts: Facts) -> list[int]:
    """One length a note, in ticks."""
    end = facts.scene.frame.end
    lengths = []
    for i, (here, then) in enumerate(pairwise((*facts.onsets, end))):
        last = then == end
        room = then - here
        again = not last and facts.moves[i] == 0
        length = round(room * _REPEAT_SHARE) if again else room - _BREATH
        if not last:
            length = min(length, _LONGEST, _until_snare(facts, here, then))
        length = min(length, _while_it_fits(facts, i, here, then))
        lengths.append(max(1, length))
    return lengths


def _until_snare(facts: Facts, here: int, then: int) -> int:
    """Ticks until a snare that the note should make room for, or until the next note."""
    snares = [s for s in facts.scene.frame.snares if here + 2 * TICKS_PER_SIXTEENTH <= s < then]
    return min(snares, default=then) - here


def _while_it_fits(facts: Facts, i: int, here: int, then: int) -> int:
    """Ticks until a chord comes in which the note is neither a chord tone nor in the key."""
    for tick in range(here, then, TICKS_PER_SIXTEENTH):
        if facts.pitches[i] % OCTAVE not in facts.scene.harmony.at(tick).fit:
            return tick - here
    return then - here


def _velocity(facts: Facts, onset: int, rng: Random) -> int:
    spot, limit = facts.scene.spots[onset], facts.scene.brief.max_velocity
    accent = _EIGHTH if spot.eighth else _SHORT
    if onset == facts.onsets[-1]:
        accent = _LAST
    elif spot.offset == 0:
        accent = _ONE
    elif spot.kick:
        accent = _KICK
    elif spot.beat:
        accent = _BEAT
    call = facts.scene.heard.mean_velocity
    loudness = max(_LEAST_LOUDNESS, min(1.0, call / limit)) if call else 1.0
    uneven = 1 - rng.uniform(0, _UNEVEN)
    return max(1, min(limit, round(limit * accent * loudness * uneven)))
