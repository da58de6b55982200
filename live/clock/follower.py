"""Following MIDI clock: tempo and phase from 24 pulses a quarter note (first form).

The estimator is a least-squares line through the last 24 pulses: slope = pulse length, value at
the last pulse = phase. It halves the jitter of a single pulse many times over and still follows a
change of tempo within a beat. A gap of more than half a second, or of four pulses, is a lost clock.
"""

from __future__ import annotations

from collections import deque
from typing import Final

from live.clock.units import (
    CLOCKS_PER_BEAT,
    MAX_TEMPO_BPM,
    MIN_TEMPO_BPM,
    NS_PER_MINUTE,
    NS_PER_S,
)

WINDOW_PULSES: Final = CLOCKS_PER_BEAT
LOST_AFTER_NS: Final = NS_PER_S // 2
LOST_AFTER_PULSES: Final = 4
_MIN_PULSE_NS: Final = NS_PER_MINUTE / (MAX_TEMPO_BPM * CLOCKS_PER_BEAT)
_MAX_PULSE_NS: Final = NS_PER_MINUTE / (MIN_TEMPO_BPM * CLOCKS_PER_BEAT)
_SLACK: Final = 1.02
"""Jitter at either end of the range must not make a tempo unknown (own choice)."""


class ClockFollower:
    """Estimates tempo and phase of an outside clock. Thread: one owner."""

    def __init__(self) -> None:
        self._stamps: deque[int] = deque(maxlen=WINDOW_PULSES)
        self._seen_ns: int | None = None  # the last sign of life
        self._phase_is_new = False
        self.pulse_ns: float | None = None
        """Estimated time between pulses; None before two pulses have come."""
        self.phase_ns = 0
        """Estimated true time of the latest pulse."""

    @property
    def tempo_bpm(self) -> float | None:
        """Estimated tempo, 20 to 400 BPM; None before two pulses have come."""
        if self.pulse_ns is None:
            return None
        return NS_PER_MINUTE / (self.pulse_ns * CLOCKS_PER_BEAT)

    def pulse(self, at_ns: int) -> None:
        """Take in one clock message stamped `at_ns`."""
        if self.is_lost(at_ns):
            self._stamps.clear()
        elif self._phase_is_new:
            self._shift_to(at_ns)
        self._phase_is_new = False
        self._seen_ns = at_ns
        self._stamps.append(at_ns)
        self.phase_ns = at_ns
        if len(self._stamps) > 1:
            self._estimate()

    def expect(self, at_ns: int) -> None:
        """A start or continue has come: pulses are due, and the next one begins a new phase."""
        self._seen_ns = at_ns
        self._phase_is_new = True

    def is_lost(self, now_ns: int) -> bool:
        """True when nothing came for so long that the clock must have gone."""
        deadline_ns = self.deadline_ns()
        return deadline_ns is not None and now_ns >= deadline_ns

    def deadline_ns(self) -> int | None:
        """When the clock counts as lost if nothing more comes; None without a clock."""
        if self._seen_ns is None:
            return None
        pulses_ns = 0.0 if self.pulse_ns is None else LOST_AFTER_PULSES * self.pulse_ns
        return self._seen_ns + round(max(LOST_AFTER_NS, pulses_ns)) + 1

    def forget(self) -> None:
        """Start anew, keeping no pulse."""
        self._stamps.clear()
        self._seen_ns = None
        self.pulse_ns = None

    def _shift_to(self, at_ns: int) -> None:
        """Keep the slope of what was seen, but let its line pass through a pulse now."""
        if self.pulse_ns is None:
            self._stamps.clear()
            return
        shift_ns = at_ns - round(self.phase_ns + self.pulse_ns)
        for index, stamp_ns in enumerate(self._stamps):
            self._stamps[index] = stamp_ns + shift_ns

    def _estimate(self) -> None:
        """Least squares over pulse index 0..n-1, measured from the first stamp to stay exact."""
        n = len(self._stamps)
        origin_ns = self._stamps[0]
        middle = (n - 1) / 2
        total = weighted = 0
        for index, stamp_ns in enumerate(self._stamps):
            offset_ns = stamp_ns - origin_ns
            total += offset_ns
            weighted += index * offset_ns
        slope_ns = (weighted - middle * total) * 12 / (n * (n * n - 1))
        if _MIN_PULSE_NS / _SLACK <= slope_ns <= _MAX_PULSE_NS * _SLACK:
            self.pulse_ns = min(max(slope_ns, _MIN_PULSE_NS), _MAX_PULSE_NS)
            self.phase_ns = origin_ns + round(total / n + slope_ns * (n - 1 - middle))
