"""What a reader of stated tempos believes about the song position, held to the true one.

A take knows where its beats lay only from the start and the tempos that were stated. An outside
clock's tempo is an estimate that lags and trembles; if each new estimate were stated, the errors
would add up. So a tempo is stated only when the reader's line leaves the real one, and then for
the beat that has just gone by, from its beginning, which puts the reader right again.
"""

from __future__ import annotations

from typing import Final

from live.clock.units import (
    MAX_TEMPO_BPM,
    MIN_TEMPO_BPM,
    NS_PER_MINUTE,
    TICKS_PER_BEAT,
    ticks_to_ns,
)

TOLERANCE_NS: Final = 2_000_000
"""How far the reader may be off at a beat: 2 ms (own choice; less than is heard)."""

Statement = tuple[int, float]
"""(from when in ns, tempo in BPM)."""


class TempoLine:
    """The reader's belief, and what to state so that it stays right. Thread: one owner."""

    def __init__(self) -> None:
        self._from_ns = 0
        self._from_ticks = 0.0
        self._tempo_bpm = MAX_TEMPO_BPM
        self._beat_ns = 0  # time of the last beat, as the reader believes it
        self._beat_ticks = 0.0

    def begin(self, at_ns: int, ticks: float, tempo_bpm: float) -> None:
        """The start was stated: position, and tempo in BPM as stated."""
        self._believe(at_ns, ticks, tempo_bpm)
        # Readers look for changes after the start, so the first one lies just after it.
        self._beat_ns, self._beat_ticks = at_ns + 1, ticks

    def beat(self, at_ns: int, ticks: int, tempo_bpm: float) -> list[Statement]:
        """A beat was reached. Returns: tempos to state, none while the reader is right.

        Args:
            at_ns: true time of the beat.
            ticks: its position, beyond the beats before it.
            tempo_bpm: the present estimate.
        """
        believed_ns = self._from_ns + ticks_to_ns(ticks - self._from_ticks, self._tempo_bpm)
        stated: list[Statement] = []
        if abs(at_ns - believed_ns) > TOLERANCE_NS:
            stated = self._correct(at_ns, ticks, round(tempo_bpm, 4))
            believed_ns = at_ns
        self._beat_ns, self._beat_ticks = believed_ns, float(ticks)
        return stated

    def _correct(self, at_ns: int, ticks: int, tempo_bpm: float) -> list[Statement]:
        passed_ticks, passed_ns = ticks - self._beat_ticks, at_ns - self._beat_ns
        stated = [(at_ns, tempo_bpm)]
        if passed_ns > 0:
            mean_bpm = passed_ticks * NS_PER_MINUTE / (TICKS_PER_BEAT * passed_ns)
            if MIN_TEMPO_BPM <= mean_bpm <= MAX_TEMPO_BPM:
                stated.insert(0, (self._beat_ns, mean_bpm))
        self._believe(at_ns, ticks, tempo_bpm)
        return stated

    def _believe(self, at_ns: int, ticks: float, tempo_bpm: float) -> None:
        self._from_ns, self._from_ticks, self._tempo_bpm = at_ns, ticks, tempo_bpm
