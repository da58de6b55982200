"""Swing in force: where what is written on the grid is played, for answer and drums alike.

Notes go in pairs, of eighths or of sixteenths, and the first of a pair lasts longer than the
second. The control at 0 leaves it to the groove; turned up it adds to what the groove has.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from live.answer.groove import TRIPLET_TICKS, TWO_TO_ONE, Groove
from live.clock.metre import Metre
from live.clock.units import TICKS_PER_BEAT, TICKS_PER_SIXTEENTH

SHORTEST_MS: Final = 100
"""The short note of a swung pair keeps about 100 ms at any tempo, so the ratio falls as the tempo
rises (Friberg & Sundstrom 2002, Music Perception 19(3): ride cymbals of four drummers)."""

_MS_PER_MINUTE: Final = 60_000


@dataclass(frozen=True, slots=True)
class Swing:
    """How pairs of notes are played.

    Args:
        bar_ticks: pairs count from the bar line; one that does not fit in the bar stays straight.
        value_ticks: which notes make pairs: 240 = sixteenths, 480 = eighths.
        lean: how much more than half of a pair its first note takes, in shares of the pair, 0.0
            (straight) to 0.3 (four to one).
    """

    bar_ticks: int
    value_ticks: int = 2 * TICKS_PER_SIXTEENTH
    lean: float = 0.0

    @property
    def ratio(self) -> float:
        """First of a pair to the second, as they are played; 1.0 = straight."""
        return (1 + 2 * self.lean) / (1 - 2 * self.lean)

    def played(self, tick: int) -> int:
        """Where a place of the grid is played, in ticks; triplet eighths stay where they are."""
        if tick % TRIPLET_TICKS == 0 and tick % TICKS_PER_SIXTEENTH:
            return tick
        return self._moved(tick, self.value_ticks, self._first_ticks)

    def written(self, tick: int) -> int:
        """The place of the grid that is played at `tick`, to the nearest tick."""
        return self._moved(tick, self._first_ticks, self.value_ticks)

    @property
    def _first_ticks(self) -> float:
        """Length of a pair's first note as it is played."""
        return (1 + 2 * self.lean) * self.value_ticks

    def _moved(self, tick: int, here: float, there: float) -> int:
        """Stretch each pair so that what is `here` ticks into it comes to lie `there`."""
        pair = 2 * self.value_ticks
        inside = tick % self.bar_ticks % pair
        begin = tick - inside
        if not self.lean or begin % self.bar_ticks + pair > self.bar_ticks:
            return tick
        if inside <= here:
            return begin + round(inside * there / here)
        return begin + round(there + (inside - here) * (pair - there) / (pair - here))


def in_force(groove: Groove, metre: Metre, tempo_bpm: float, dial: float) -> Swing:
    """The swing of everything that is played over a groove.

    Args:
        groove: gives the swing it has itself (`Groove.feel`), and which notes swing.
        metre: compound metres do not swing.
        tempo_bpm: quarter notes a minute; leaves what the control adds room (`SHORTEST_MS`).
        dial: 0.0 as the groove has it, 1.0 two to one or what the groove has, if that is more.
    Thread: any; pure.
    """
    if metre.compound:
        return Swing(metre.bar_ticks)
    ratio, value_ticks = groove.feel
    own = _lean(ratio)
    pair_ms = 2 * value_ticks / TICKS_PER_BEAT * _MS_PER_MINUTE / tempo_bpm
    most = max(own, min(_lean(TWO_TO_ONE), 0.5 - SHORTEST_MS / pair_ms))
    return Swing(metre.bar_ticks, value_ticks, own + (most - own) * dial)


def _lean(ratio: float) -> float:
    return ratio / (ratio + 1) - 0.5
