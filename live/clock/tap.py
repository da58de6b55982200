"""Tap tempo: a tempo from a player's taps, one a beat.

Estimator: least squares on tap number against time, which weighs the taps at the ends most and so
needs the fewest of them; a gap that is near a multiple of the beat holds the taps that were missed.
A tap that comes far off the beat begins anew, so that a new tempo is not averaged with the old.
"""

from __future__ import annotations

import statistics
from collections import deque
from typing import Final

from live.clock.units import MAX_TEMPO_BPM, MIN_TEMPO_BPM, NS_PER_MINUTE

MOST_TAPS: Final = 16
"""Taps that are remembered: four bars of 4/4 (own choice)."""
LONGEST_GAP_NS: Final = round(NS_PER_MINUTE / MIN_TEMPO_BPM)
"""After a longer silence the next tap is a first one."""
SHORTEST_GAP_NS: Final = round(NS_PER_MINUTE / MAX_TEMPO_BPM)
"""A tap that comes sooner is a bounce of the last one."""
_OFF_BEAT: Final = 0.25
"""A tap this part of a beat beside its place begins anew (own choice; people tap within a few
percent of a beat: Repp, Psychonomic Bulletin and Review 12, 2005; from memory)."""
_EDGE: Final = 1e-9


class TapTempo:
    """Takes in taps. Thread: one owner."""

    def __init__(self) -> None:
        self._taps: deque[tuple[int, int]] = deque(maxlen=MOST_TAPS)  # (beat, ns)

    @property
    def taps(self) -> int:
        """Taps that the tempo rests on."""
        return len(self._taps)

    def tap(self, at_ns: int) -> float | None:
        """A tap at a time, not before the last one.

        Returns: the tempo, 20 to 400 BPM; None while there is only one tap.
        """
        if not self._taps:
            self._taps.append((0, at_ns))
            return None
        beat, last_ns = self._taps[-1]
        gap_ns = at_ns - last_ns
        if gap_ns < SHORTEST_GAP_NS * (1 - _EDGE):
            return self._tempo_bpm()
        if gap_ns > LONGEST_GAP_NS * (1 + _EDGE):
            self._taps.clear()
            return self.tap(at_ns)
        if len(self._taps) > 1:
            beats = gap_ns / self._beat_ns()
            if round(beats) < 1 or abs(beats - round(beats)) > _OFF_BEAT:
                self._taps.clear()
                self._taps.append((0, last_ns))
                beat, beats = 0, 1.0
            self._taps.append((beat + round(beats), at_ns))
        else:
            self._taps.append((beat + 1, at_ns))
        return self._tempo_bpm()

    def _tempo_bpm(self) -> float | None:
        if len(self._taps) < 2:
            return None
        tempo_bpm = NS_PER_MINUTE / self._beat_ns()
        return min(max(tempo_bpm, MIN_TEMPO_BPM), MAX_TEMPO_BPM)

    def _beat_ns(self) -> float:
        beats = [beat for beat, _ in self._taps]
        first_ns = self._taps[0][1]
        times_ns = [at_ns - first_ns for _, at_ns in self._taps]
        return statistics.linear_regression(beats, times_ns).slope
