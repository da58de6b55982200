"""Two bars of one line, as the kinship critic hears them.

A bar is 48 units long; its parts, about eighths, are 8 in simple time and as many as the metre has
in compound. Pitches are counted from the tonic: 60 is a tonic, whatever the key.
"""

from __future__ import annotations

from collections.abc import Sequence
from operator import sub
from typing import Final

UNITS: Final = 48
"""Units in a bar: eighths, triplets and sixteenths of the common metres fall on whole ones."""

PHRASE: Final = 2 * UNITS

_BAR: Final = (1 << UNITS) - 1
_STEP_OF_PC: Final = (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)
"""Scale step of each semitone above the tonic; flat and sharp thirds, sixths, sevenths alike."""

STEPS: Final = bytes(7 * (p // 12) + _STEP_OF_PC[p % 12] for p in range(128)) + bytes(128)
"""Translates pitches counted from the tonic into scale steps; 35 is the tonic at 60."""

_ONE: Final = tuple(bytes((pitch,)) for pitch in range(128))
_BIT: Final = tuple(1 << unit for unit in range(PHRASE))


class Phrase:
    """Two bars of one line, in units, from the tonic.

    Args:
        onsets: ascending units, 0 to 95, no two equal; at least one.
        pitches: one an onset, 0 to 127, 60 is a tonic.
        parts: parts in a bar, a divisor of 48 from 4 to 12.
    """

    __slots__ = (
        "bits", "lengths", "lines", "moves", "onsets", "parts", "pitches", "steps", "tune", "tunes",
    )  # fmt: skip

    def __init__(self, onsets: Sequence[int], pitches: Sequence[int], parts: int) -> None:
        heights, unit = bytes(pitches), UNITS // parts
        steps = heights.translate(STEPS)
        edges = [(onset + unit - 1) // unit for onset in onsets]
        edges[0] = 0
        edges.append(2 * parts)
        held = map(sub, edges[1:], edges)
        line = b"".join([_ONE[p] * count for p, count in zip(heights, held, strict=True)])
        tune = line.translate(STEPS)
        bits = sum([_BIT[onset] for onset in onsets])
        self.parts, self.pitches, self.onsets = parts, heights, onsets
        self.tune, self.steps = tune, steps
        self.lines, self.tunes = (line[:parts], line[parts:]), (tune[:parts], tune[parts:])
        self.moves = list(map(sub, steps[1:], steps))
        self.lengths = list(map(sub, [*onsets[1:], PHRASE], onsets))
        self.bits = bits & _BAR, bits >> UNITS
