"""How much drums swing: how late the second of each pair of sixteenths, or eighths, comes."""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt
from statistics import fmean, stdev
from typing import Final

from live.answer.groove import STRAIGHT
from live.clock.units import NS_PER_S, TICKS_PER_SIXTEENTH, ns_to_ticks

HEARD_NS: Final = NS_PER_S // 100
"""Swing that musicians just notice, about 10 ms (G. S. Camara, Sensing Sound and Music)."""

_LEAST: Final = 4
"""Second notes that it takes to say anything; our choice."""
_SURE: Final = 2.0
"""Standard errors that the lateness must be away from nothing; our choice."""


def swing_of(onsets: Sequence[int], tempo_bpm: float) -> tuple[float, int]:
    """(first of a pair to the second, the swung value's ticks); 1 = straight.

    Args:
        onsets: ticks from a bar line, as played, at most half a sixteenth off their place.
        tempo_bpm: quarter notes a minute.
    Returns: the value that swings more, sixteenths (240) or eighths (480).
    """
    heard = ns_to_ticks(HEARD_NS, tempo_bpm)
    late = {
        value: _lateness(onsets, value) for value in (TICKS_PER_SIXTEENTH, 2 * TICKS_PER_SIXTEENTH)
    }
    value = max(late, key=lambda value: late[value])
    if late[value] < heard:
        return STRAIGHT, TICKS_PER_SIXTEENTH
    return round((value + late[value]) / (value - late[value]), 2), value


def _lateness(onsets: Sequence[int], value: int) -> float:
    """Mean ticks by which the second notes of pairs are later than the first ones; 0 if unsure."""
    half = TICKS_PER_SIXTEENTH // 2
    firsts: list[int] = []
    seconds: list[int] = []
    for onset in onsets:
        step, off = divmod(onset + half, TICKS_PER_SIXTEENTH)
        place = step * TICKS_PER_SIXTEENTH % (2 * value)
        if place % value == 0:
            (seconds if place else firsts).append(off - half)
    if min(len(firsts), len(seconds)) < _LEAST:
        return 0.0
    late = fmean(seconds) - fmean(firsts)
    error = sqrt(stdev(firsts) ** 2 / len(firsts) + stdev(seconds) ** 2 / len(seconds))
    return late if late > _SURE * error else 0.0
