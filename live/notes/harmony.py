"""The chord that sounds now, looked up by tick."""

from __future__ import annotations

from bisect import bisect_right
from fractions import Fraction

from live.theory.chords import Chord
from live.theory.progressions import Progression


class Harmony:
    """A progression laid out in ticks, repeating.

    Args:
        progression: None = no chords.
        bar_ticks: ticks in a bar.
        first_bar: the bar of the song at which it begins; before it, it has been repeating too.
    """

    def __init__(self, progression: Progression | None, bar_ticks: int, first_bar: int = 0) -> None:
        self._starts: list[int] = []
        self._chords: list[Chord] = []
        self._bar_ticks = bar_ticks
        bars = Fraction(0)
        for stretch in progression.stretches if progression else ():
            self._starts.append(round(bars * bar_ticks))
            self._chords.append(stretch.chord)
            bars += stretch.bars
        self._length_ticks = max(1, round(bars * bar_ticks))
        self._first_tick = first_bar * bar_ticks

    def chord_at(self, tick: float) -> Chord | None:
        """The chord at a position from the song's start; None without a progression."""
        if not self._chords:
            return None
        tick = (tick - self._first_tick) % self._length_ticks
        return self._chords[bisect_right(self._starts, tick) - 1]

    def bar_at(self, tick: float) -> tuple[int, int]:
        """(place in the progression in bars from 1, its length in bars); (0, 0) without one."""
        if not self._chords:
            return (0, 0)
        place = int((tick - self._first_tick) % self._length_ticks) // self._bar_ticks + 1
        return (place, -(-self._length_ticks // self._bar_ticks))
