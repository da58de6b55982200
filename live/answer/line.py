"""Pitches of an answer: a beam search for the cheapest line over the slots of a rhythm."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache, partial
from heapq import nsmallest
from itertools import product
from math import log
from random import Random
from typing import Final, Literal, NamedTuple

from live.answer.harmony import Ground

Approach = Literal["up", "fall", "leap"]
Moves = tuple[tuple[float, ...], ...]

APPROACHES: Final[tuple[Approach, ...]] = ("up", "fall", "leap")

OCTAVE: Final = 12
LEAP: Final = 4
"""A leap is wider than this many semitones (as in the bass statistics)."""

_SHARES: Final = (53.1, 6.4, 10.2, 5.1, 5.1, 5.7, 0.8, 4.2, 0.7, 0.7, 0.7, 0.3, 5.1)
"""Per cent of melodic intervals by semitones 0..12 in 66 bass tracks with drums (31,973 onsets;
measured on the open packages freedoom and OpenMSX). The two thirds share their 10.2% and
sixths and sevenths what is left, so that the corpus' minor keys do not speak for major ones."""

_AFTER_LEAP: Final = {"turn": 0.68, "repeat": 0.22, "on": 0.10}
"""What follows a leap in the same tracks: it turns back, stays, or goes on."""

# The rest of the costs are our own taste, in the same unit (natural logarithms of odds).
_ROOT, _FIFTH, _THIRD, _OTHER_TONE, _PASSING = 0.0, 0.4, 0.6, 0.8, 0.8
_NO_ROOT_ON_ONE: Final = 1.6
_TENSION_ON_ONE: Final = 0.8
_PASSING_HEAVY: Final = 0.9
_PASSING_LEAP: Final = 2.5
_PASSING_SKIP: Final = 0.6
_PASSING_REPEAT: Final = 2.0
_DISTANCE: Final = 0.06
_MATE: Final = 3.5
_ARRIVE: Final = 3.5
_STALL: Final = 2.0
_WALK: Final = 1.0
_LEAD_IN: Final = 0.4
_NOISE: Final = 1.4
_FLATTEN: Final = 0.7
_LEAP_WEIGHT: Final = 2.0
_AGAIN: Final = 0.75
_BEAM: Final = 8
_LEAN: Final = 0.6


@dataclass(frozen=True, slots=True)
class Slot:
    """One note to be pitched.

    Args:
        ground: the harmony there.
        strong: only a chord tone will do.
        heavy: on the beat or a quarter note long at least: a passing note is dear.
        one: first beat of a bar or first note over a new chord.
        centre: MIDI note around which the line lies here.
        target: pitch the call suggests, None for none.
        pull: cost of missing the target, 0 or more.
        mate: index of the slot one pattern earlier, -1 for none; its interval above its
            chord's bottom note is worth repeating.
        tether: cost of each semitone off the centre, besides the usual one.
    """

    ground: Ground
    strong: bool
    heavy: bool
    one: bool
    centre: float
    target: int | None = None
    pull: float = 0.0
    mate: int = -1
    tether: float = 0.0


@dataclass(frozen=True, slots=True)
class Ending:
    """How the line closes: the last pitch classes allowed (0..11) and how they are reached."""

    pitch_classes: frozenset[int]
    approach: Approach


class Partial(NamedTuple):
    """A line so far; compared by cost, then by pitches, so that ties always fall the same way.

    Args:
        cost: the lower the better.
        path: pitches.
        leapt: -1 or 1 after a leap down or up, otherwise 0.
        passing: the last note is no chord tone.
    """

    cost: float
    path: tuple[int, ...]
    leapt: int
    passing: bool


def find_line(
    slots: tuple[Slot, ...],
    low: int,
    high: int,
    ending: Ending,
    rng: Random,
    leaps: float = 0.0,
) -> tuple[int, ...]:
    """One pitch a slot, each in `low`..`high` and fitting its ground.

    Args:
        slots: at least one.
        low: lowest MIDI note, inclusive.
        high: highest, inclusive; an octave above `low` or more.
        ending: the last note's pitch classes; left aside where none fits the last slot.
        rng: chance, so that equal briefs with other seeds find other lines.
        leaps: -1 steps only if possible, 1 leaps, 0 as usual.
    Thread: any; pure.
    """
    columns = [_column(slot, low, high, rng) for slot in slots]
    final = [c for c in columns[-1] if c[0] % OCTAVE in ending.pitch_classes]
    columns[-1] = final or columns[-1]
    beam = [Partial(cost, (pitch,), 0, passing) for pitch, cost, passing in columns[0]]
    for i in range(1, len(slots)):
        moves = _table(slots, i, ending.approach)
        moves = _leant(moves, leaps) if leaps else moves
        beam = _extend(nsmallest(_BEAM, beam), columns[i], moves, slots, i)
    return min(beam).path


def _table(slots: tuple[Slot, ...], i: int, approach: Approach) -> Moves:
    """The costs of moves into slot `i`."""
    if i == len(slots) - 1:
        return _LAST[approach]
    if i == len(slots) - 2:
        return _BEFORE_LAST[approach]
    return _INTO_ONE if slots[i].one else _PLAIN


@lru_cache(maxsize=64)
def _leant(moves: Moves, leaps: float) -> Moves:
    """The costs with steps or leaps made dearer; a repeated note counts as half a step."""
    size = [min(7, abs(move)) or 0.5 for move in range(-OCTAVE, OCTAVE + 1)]
    return tuple(
        tuple(cost - _LEAN * leaps * much for cost, much in zip(row, size, strict=True))
        for row in moves
    )


def _extend(
    beam: list[Partial],
    column: list[tuple[int, float, bool]],
    moves: Moves,
    slots: tuple[Slot, ...],
    i: int,
) -> list[Partial]:
    """The best continuation of the kept lines to each note of the next slot."""
    best: dict[int, Partial] = {}
    mate = slots[i].mate
    shift = slots[i].ground.bottom_pc - slots[mate].ground.bottom_pc
    shift = (shift + 5) % OCTAVE - 5
    for cost, path, leapt, was_passing in beam:
        here = path[-1]
        stable, passing_row = moves[leapt + 1], moves[leapt + 4]
        if was_passing:
            stable = passing_row
        wish = path[mate] + shift if mate >= 0 else -1
        again = _AGAIN * ((path[-2:-1] == (here,)) + (path[-3:-1] == (here, here)))
        for pitch, own, passing in column:
            move = pitch - here
            if not -OCTAVE <= move <= OCTAVE:
                continue
            total = cost + own + (passing_row if passing else stable)[move + OCTAVE]
            if pitch == wish:
                total -= _MATE
            if move == 0:
                total += again
            known = best.get(pitch)
            if known is None or total < known.cost:
                leap = 0 if -LEAP <= move <= LEAP else 1 if move > 0 else -1
                best[pitch] = Partial(total, (*path, pitch), leap, passing)
    return list(best.values())


def _passing_cost(move: int) -> float:
    """What a move from or to a passing note costs: they live by steps."""
    if move == 0:
        return _PASSING_REPEAT
    if -2 <= move <= 2:
        return 0.0
    return _PASSING_LEAP if move > 3 or move < -3 else _PASSING_SKIP


def _column(slot: Slot, low: int, high: int, rng: Random) -> list[tuple[int, float, bool]]:
    """(pitch, cost, not a chord tone) for every note that may stand in a slot."""
    found = []
    target, centre, chance = slot.target, slot.centre, rng.random
    for pitch, role, passing in _standing(
        slot.ground, slot.strong, slot.heavy, slot.one, low, high
    ):
        cost = role + (_DISTANCE + slot.tether) * abs(pitch - centre) + _NOISE * chance()
        if target is not None:
            cost += slot.pull * _miss(pitch, target)
        found.append((pitch, cost, passing))
    return found


@lru_cache(maxsize=512)
def _standing(
    ground: Ground,
    strong: bool,  # noqa: FBT001
    heavy: bool,  # noqa: FBT001
    one: bool,  # noqa: FBT001
    low: int,
    high: int,
) -> tuple[tuple[int, float, bool], ...]:
    """The notes that may stand over a ground, with the cost of their role in the chord."""
    found = []
    for pitch in range(low, high + 1):
        pitch_class = pitch % OCTAVE
        if pitch_class in ground.tones:
            found.append((pitch, _tone_cost(ground, pitch_class, one), False))
        elif pitch_class in ground.fit and not strong:
            found.append((pitch, _PASSING + _PASSING_HEAVY * heavy, True))
    return tuple(found)


def _tone_cost(ground: Ground, pitch_class: int, one: bool) -> float:  # noqa: FBT001
    if pitch_class == ground.bottom_pc:
        return _ROOT
    above = (pitch_class - ground.chord.root_pc) % OCTAVE
    cost = _FIFTH if above in (6, 7, 8) else _THIRD if above in (3, 4) else _OTHER_TONE
    if one:
        cost += _NO_ROOT_ON_ONE + _TENSION_ON_ONE * (cost == _OTHER_TONE)
    return cost


def _miss(pitch: int, target: int) -> float:
    """0 on target, less than half an octave away for the same note in another octave."""
    distance = abs(pitch - target)
    if distance % OCTAVE == 0:
        return 0.4 * (distance > 0)
    return 0.7 + 0.1 * min(distance, 6)


def _moves(bonus: Callable[[int], float]) -> Moves:
    """Cost by move (-12..12 semitones), in six rows.

    After a leap down, after no leap, after a leap up; then the same three where either note is a
    passing note.
    """
    rows = []
    for passing, leapt in product((False, True), (-1, 0, 1)):
        row = []
        for move in range(-OCTAVE, OCTAVE + 1):
            cost = -_FLATTEN * log(_SHARES[abs(move)] / (2 if move else 1) / 100)
            if leapt:
                way = "repeat" if move == 0 else "on" if (move > 0) == (leapt > 0) else "turn"
                cost += _LEAP_WEIGHT * log(_AFTER_LEAP["turn"] / _AFTER_LEAP[way])
            row.append(cost - bonus(move) + passing * _passing_cost(move))
        rows.append(tuple(row))
    return tuple(rows)


def _leads(approach: Approach, move: int) -> bool:
    """The move goes home in the wanted way."""
    if approach == "leap":
        return abs(move) in (5, 7)
    return 1 <= (move if approach == "up" else -move) <= 3


def _last(approach: Approach, move: int) -> float:
    return _ARRIVE * _leads(approach, move) - _STALL * (move == 0)


def _before_last(approach: Approach, move: int) -> float:
    return _WALK * _leads(approach, move) if approach != "leap" else 0.0


def _lead_in(bonus: float, move: int) -> float:
    return bonus * (1 <= abs(move) <= 2)


_PLAIN: Final = _moves(partial(_lead_in, 0.0))
_INTO_ONE: Final = _moves(partial(_lead_in, _LEAD_IN))
_LAST: Final = {a: _moves(partial(_last, a)) for a in APPROACHES}
_BEFORE_LAST: Final = {a: _moves(partial(_before_last, a)) for a in APPROACHES}
