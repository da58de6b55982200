"""What the weights in `key_table` make of what a follower hears: factors of the 24 chances."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from operator import mul
from typing import Final, NamedTuple

from live.theory.key_table import (
    CHORDS_BASS,
    CHORDS_FIRST,
    CHORDS_LOOP,
    CHORDS_ROOT,
    CHORDS_SHAPE,
    CHORDS_SOUNDING,
    CHORDS_STEP,
    CHORDS_STRUCK,
    CHORDS_TOP,
    LINE_LEAP_DOWN,
    LINE_LEAP_UP,
    LINE_LOOP,
    LINE_NOTE,
    LINE_OVER,
    LINE_STEP,
)
from live.theory.keyfilter import every_turn
from live.theory.keyhear import is_struck_anew, shape_of

NO_PITCH: Final = 12
"""No pitch class."""

Factors = tuple[float, ...]

_LINE_LOOP = every_turn(LINE_LOOP)
_STRUCK, _SOUNDING = every_turn(CHORDS_STRUCK), every_turn(CHORDS_SOUNDING)
_BASS, _FIRST, _LOOP = (every_turn(rows) for rows in (CHORDS_BASS, CHORDS_FIRST, CHORDS_LOOP))
_ROOT, _TOP = every_turn(CHORDS_ROOT), every_turn(CHORDS_TOP)
_SHAPE = tuple(every_turn((major, minor)) for major, minor in zip(*CHORDS_SHAPE, strict=True))


class LineFactors(NamedTuple):
    """Factors of a note of a line.

    Fields: onward, by the way it goes (0, 1 or -1: `is_leap` up or down), the pitch class before
        (`NO_PITCH`: none) and now; over, by the pitch class before that and now.
    """

    onward: tuple[tuple[tuple[Factors, ...], ...], ...]
    over: tuple[tuple[Factors, ...], ...]


@lru_cache(maxsize=1)
def line_factors() -> LineFactors:
    """All of them, made once."""
    alone = every_turn(LINE_NOTE)
    step = [_times_rows(rows, alone) for rows in _every_step(LINE_STEP)]
    up = map(_times_rows, step, _every_step(LINE_LEAP_UP))
    down = map(_times_rows, step, _every_step(LINE_LEAP_DOWN))
    onward = tuple((*rows, alone) for rows in (step, up, down))
    return LineFactors(onward, _every_step(LINE_OVER))


def loop_factors(first: int) -> Factors:
    """Factors for the pitch class that a line began on, once it comes round."""
    return _LINE_LOOP[first]


@lru_cache(maxsize=4096)
def chord_factors(struck: int, sounding: int, low: int, top: int) -> Factors:
    """Factors of what sounds.

    Args:
        struck: pitch-class mask of what is struck now.
        sounding: that of all that sounds.
        low: pitch class of the lowest note that sounds.
        top: that of the highest if it is struck, else `NO_PITCH`.
    """
    rows = [_STRUCK[pc] for pc in range(12) if struck >> pc & 1]
    rows += [_SOUNDING[pc] for pc in range(12) if sounding >> pc & 1]
    if sounding.bit_count() > 2:
        root, shape = shape_of(sounding, low)
        rows.append(_SHAPE[shape][root])
        if is_struck_anew(struck, sounding):
            rows.append(_ROOT[root])
    if top != NO_PITCH:
        rows.append(_TOP[top])
    return tuple(math.prod(column) for column in zip(*rows, strict=True))


@lru_cache(maxsize=2048)
def bass_factors(before: int, bass: int, first: int) -> Factors:
    """Factors for the bass's pitch class before and now, and what it began on if it loops.

    Each may be `NO_PITCH`: there was none before, it is not struck, it does not loop.
    """
    if bass == NO_PITCH:
        return (1.0,) * 24
    rows = [_BASS[bass]]
    if before == NO_PITCH:
        rows.append(_FIRST[bass])
    else:
        rows.append(_stepped(CHORDS_STEP, before, bass))
    if first != NO_PITCH:
        rows.append(_LOOP[first])
    return tuple(math.prod(column) for column in zip(*rows, strict=True))


def _times_rows(one: Sequence[Factors], other: Sequence[Factors]) -> tuple[Factors, ...]:
    return tuple(tuple(map(mul, *rows)) for rows in zip(one, other, strict=True))


def _every_step(rows: Sequence[Sequence[Sequence[float]]]) -> tuple[tuple[Factors, ...], ...]:
    return tuple(tuple(_stepped(rows, before, now) for now in range(12)) for before in range(12))


def _stepped(rows: Sequence[Sequence[Sequence[float]]], before: int, now: int) -> Factors:
    """What the step between two pitch classes weighs in each key, as a factor."""
    return tuple(
        math.exp(row[(before - tonic) % 12][(now - tonic) % 12])
        for row in rows
        for tonic in range(12)
    )
