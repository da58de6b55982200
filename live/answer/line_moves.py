"""What a move from note to note costs a bass line: natural logarithms of odds, as tables."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache, partial
from math import inf, log
from typing import Final, Literal, NamedTuple

Approach = Literal["up", "fall", "leap"]
Row = tuple[float, ...]

APPROACHES: Final[tuple[Approach, ...]] = ("up", "fall", "leap")

OCTAVE: Final = 12
LEAP: Final = 4
"""A leap is wider than this many semitones (as in the bass statistics)."""

WIDEST: Final = 27
"""Most semitones from the lowest to the highest note that a line is searched in."""

_SHARES: Final = (53.1, 6.4, 10.2, 5.1, 5.1, 5.7, 0.8, 4.2, 0.7, 0.7, 0.7, 0.3, 5.1)
"""Per cent of melodic intervals by semitones 0..12 in 66 bass tracks with drums (31,973 onsets;
measured on the open packages freedoom and OpenMSX). The two thirds share their 10.2% and
sixths and sevenths what is left, so that the corpus' minor keys do not speak for major ones."""

_AFTER_LEAP: Final = {"turn": 0.68, "repeat": 0.22, "on": 0.10}
"""What follows a leap in the same tracks: it turns back, stays, or goes on."""

# The rest of the costs are our own taste, in the same unit.
_PASSING_LEAP: Final = 2.5
_PASSING_SKIP: Final = 0.6
_PASSING_REPEAT: Final = 2.0
_ARRIVE: Final = 3.5
_STALL: Final = 2.0
_WALK: Final = 1.0
_LEAD_IN: Final = 0.4
_FLATTEN: Final = 0.7
_LEAP_WEIGHT: Final = 2.0
_LEAN: Final = 0.6


Rows = tuple[Row, Row, Row, Row, Row, Row]
"""After a leap down, after no leap, after a leap up; then the same three from a passing note.

A row has the moves to chord tones, from -WIDEST to WIDEST semitones, then those to passing notes;
`place_of` says where. A move wider than an octave costs `inf`.
"""


class Moves(NamedTuple):
    """Costs of all moves of a line, by where they lead.

    Args:
        plain: anywhere.
        into_one: to a slot that is the one.
        last: to the last note, by how it is to be reached.
        before_last: to the last but one.
    """

    plain: Rows
    into_one: Rows
    last: dict[Approach, Rows]
    before_last: dict[Approach, Rows]


def place_of(pitch: int, *, passing: bool) -> int:
    """Where a row has the move to a pitch, less the pitch that it is from."""
    return pitch + WIDEST + passing * (2 * WIDEST + 1)


@lru_cache(maxsize=8)
def moves_of(leaps: float) -> Moves:
    """The costs as the control wants them: -1 steps only if possible, 1 leaps, 0 as usual."""
    return Moves(
        plain=_rows(partial(_lead_in, 0.0), leaps),
        into_one=_rows(partial(_lead_in, _LEAD_IN), leaps),
        last={a: _rows(partial(_last, a), leaps) for a in APPROACHES},
        before_last={a: _rows(partial(_before_last, a), leaps) for a in APPROACHES},
    )


def _rows(bonus: Callable[[int], float], leaps: float) -> Rows:
    down, none, up = (
        (_costs(bonus, leaps, leapt, passing=False), _costs(bonus, leaps, leapt, passing=True))
        for leapt in (-1, 0, 1)
    )
    tones = down[0] + down[1], none[0] + none[1], up[0] + up[1]
    return (*tones, 2 * down[1], 2 * none[1], 2 * up[1])


def _costs(bonus: Callable[[int], float], leaps: float, leapt: int, *, passing: bool) -> Row:
    """The moves of half a row, after a leap down (-1) or up (1) or none (0)."""
    row = []
    for move in range(-OCTAVE, OCTAVE + 1):
        cost = -_FLATTEN * log(_SHARES[abs(move)] / (2 if move else 1) / 100)
        if leapt:
            way = "repeat" if move == 0 else "on" if (move > 0) == (leapt > 0) else "turn"
            cost += _LEAP_WEIGHT * log(_AFTER_LEAP["turn"] / _AFTER_LEAP[way])
        cost = cost - bonus(move) + passing * _passing_cost(move)
        row.append(cost - _LEAN * leaps * (min(7, abs(move)) or 0.5))
    far = (inf,) * (WIDEST - OCTAVE)
    return (*far, *row, *far)


def _passing_cost(move: int) -> float:
    """What a move from or to a passing note costs: they live by steps."""
    if move == 0:
        return _PASSING_REPEAT
    if -2 <= move <= 2:
        return 0.0
    return _PASSING_LEAP if move > 3 or move < -3 else _PASSING_SKIP


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
