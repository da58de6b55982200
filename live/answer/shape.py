"""Shaping: how long and how loud each note of a line is."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from random import Random
from statistics import median
from typing import Final

from live.answer.facts import Facts
from live.answer.line_moves import OCTAVE
from live.answer.scene import Scene
from live.answer.voice_table import TUNES_RESTS
from live.clock.units import TICKS_PER_BEAT, TICKS_PER_SIXTEENTH
from live.notes.phrase import Brief, Call, PhraseNote
from live.notes.taste import MIDDLE

# Accents are our own taste (common practice: the kick and the one are played hardest).
_ONE, _KICK, _BEAT, _EIGHTH, _SHORT, _LAST = 1.0, 0.97, 0.9, 0.84, 0.7, 0.95
_LEAST_LOUDNESS: Final = 0.8
_UNEVEN: Final = 0.02

_BREATH: Final = TICKS_PER_SIXTEENTH // 4
_REPEAT_SHARE: Final = 0.7
_LONGEST: Final = 2 * TICKS_PER_BEAT


_STAB: Final = 0.2
"""What is left of a note's length where stabs are wanted most."""

_DOUBLED_BELOW: Final = 48
"""Notes below C3 (131 Hz) are hard to hear on small speakers. Common practice, no source."""

_DOUBLE_LOUDNESS: Final = 0.85


def shape(facts: Facts, rng: Random) -> tuple[PhraseNote, ...]:
    """Give a line its lengths and velocities, its swing and its octave doubles.

    In kind notes are held as the call holds them, and in tunes the last one may leave a rest before
    the bar line, as often as in real answers. Otherwise they end before the next onset,
    repeated notes sooner so that they speak, and before a snare where at least an eighth is left;
    the last note rings. Velocities follow the accents, a little the call's own loudness, and never
    pass the brief's limit.

    Thread: any; pure.
    """
    brief = facts.scene.brief
    notes = [
        PhraseNote(onset, length, pitch, _velocity(facts, onset, rng))
        for onset, pitch, length in zip(
            facts.onsets, facts.pitches, _lengths(facts, rng), strict=True
        )
    ]
    notes = _swung(notes, facts.scene)
    if brief.taste.octave_double:
        notes = [both for note in notes for both in _doubled(note, brief)]
    return tuple(notes)


def call_gate(call: Call) -> float:
    """How much of the way to the next note the call's notes sound, 0.1 to 1.0 (median)."""
    notes = sorted({(n.onset_ticks, n.length_ticks) for n in call.notes})
    shares = [
        length / (after - onset)
        for (onset, length), (after, _) in pairwise(notes)
        if after - onset >= TICKS_PER_SIXTEENTH // 2
    ]
    return max(0.1, min(1.0, median(shares))) if shares else 1.0


def _swung(notes: list[PhraseNote], scene: Scene) -> list[PhraseNote]:
    """The notes where they are played; none reaches into the next."""
    swing = scene.frame.swing
    if not swing.lean:
        return notes
    onsets = [swing.played(note.onset_ticks) for note in notes]
    ends = [swing.played(note.onset_ticks + note.length_ticks) for note in notes]
    return [
        replace(note, onset_ticks=onset, length_ticks=max(1, min(end, after) - onset))
        for note, onset, end, after in zip(
            notes, onsets, ends, (*onsets[1:], scene.frame.end), strict=True
        )
    ]


def _doubled(note: PhraseNote, brief: Brief) -> tuple[PhraseNote, ...]:
    above = note.pitch + OCTAVE
    if note.pitch >= _DOUBLED_BELOW or above > brief.high:
        return (note,)
    softer = max(1, round(note.velocity * _DOUBLE_LOUDNESS))
    return note, replace(note, pitch=above, velocity=softer)


def _lengths(facts: Facts, rng: Random) -> list[int]:
    """One length a note, in ticks."""
    end, dial = facts.scene.frame.end, facts.scene.brief.taste.length
    gate = call_gate(facts.scene.brief.call) if facts.scene.in_kind else 0.0
    lengths = []
    for i, (here, then) in enumerate(pairwise((*facts.onsets, end))):
        room = then - here
        length = round(gate * room) if gate else _usual_length(facts, i, here, then)
        if then == end and gate and not facts.scene.is_bass_call:
            length = min(length, room - _rest_ticks(facts, room, rng))
        if dial < MIDDLE:
            length = round(length * (_STAB + (1 - _STAB) * dial / MIDDLE))
        else:
            length += round((room - length) * (dial - MIDDLE) / MIDDLE)
        lengths.append(max(1, min(length, _while_it_fits(facts, i, here, then))))
    return lengths


def _rest_ticks(facts: Facts, room: int, rng: Random) -> int:
    """What a last note leaves of its room for the next phrase to begin in, often nothing."""
    beat = "compound" if facts.scene.brief.metre.compound else "simple"
    shares = TUNES_RESTS.get(f"{beat} {room}")
    if not shares:
        return 0
    none = 1.0 - sum(shares.values())
    return rng.choices((0, *shares), (none, *shares.values()))[0]


def _usual_length(facts: Facts, i: int, here: int, then: int) -> int:
    """How long a bass under a call holds a note, in ticks."""
    last = then == facts.scene.frame.end
    again = not last and facts.moves[i] == 0
    length = round((then - here) * _REPEAT_SHARE) if again else then - here - _BREATH
    return length if last else min(length, _LONGEST, _until_snare(facts, here, then))


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
