"""One explanation of the clock pulses heard so far: a Kalman filter on tempo and phase.

State: when the latest pulse was due, and the time between pulses. Its variances are counted in
units of the variance of a single stamp, so without forgetting this is recursive least squares, the
best straight line through the stamps whatever their jitter is; old pulses fade slowly. The jitter
itself is learned on the way. `score` is the log-likelihood of what was heard, so that several
explanations can be compared (live.clock.follower).

Source: Bar-Shalom, Li and Kirubarajan, Estimation with Applications to Tracking and Navigation
(Wiley 2001), chapters 5 and 6 for the filter and its fading memory; from memory.
"""

from __future__ import annotations

import math
from typing import Final

MEMORY_PULSES: Final = 96
"""Time constant of forgetting, in pulses: four beats (own choice)."""

_FAR_NS: Final = 1e12
"""Doubt of a time between pulses of which nothing is known."""

_FADING: Final = 1 - 1 / MEMORY_PULSES
_NOISE_NS: Final = 1_000_000.0
"""Jitter believed before any was seen (standard deviation), worth `_NOISE_PULSES` pulses."""
_NOISE_PULSES: Final = 3.0
_LEAST_NOISE_NS: Final = 700_000.0
"""No stamp is believed to be better than this, half a period of 64 frames at 48 kHz or of USB's
1 ms with the rest: steps of such a size are no changes of tempo. They are averaged all the same."""
_HALF_LOG_2PI: Final = math.log(2 * math.pi) / 2


class Track:
    """A straight line through pulses, with what is known of its place, slope and jitter.

    Args:
        time_ns: stamp of the first pulse.
        pulse_ns: time between pulses as it is guessed at first.
        doubt_ns: standard deviation of that guess.
    Fields:
        index: number of the latest pulse, lost ones counted, doubled ones not.
        time_ns: when that pulse was due, from the follower's origin.
        pulse_ns: time between pulses.
        score: log-likelihood of the explanation, less its price; only differences count.
        heard: pulses the line rests on.
        born: number of the pulse at which this explanation left the others.
        held_ns: when its last pulse came, if that was held up on its way, else minus infinity.
        doubles: share of pulses that were one too many, over the last four beats or so, 0 to 1.
            (Over one beat, two of them by chance made a crowd of all that followed.)
    Thread: one owner.
    """

    __slots__ = (
        "_noise_ns2",
        "_noise_weight",
        "_v_both",
        "_v_pulse",
        "_v_time",
        "born",
        "doubles",
        "heard",
        "held_ns",
        "index",
        "pulse_ns",
        "score",
        "time_ns",
    )

    def __init__(self, time_ns: float, pulse_ns: float, doubt_ns: float = _FAR_NS) -> None:
        self.index = 0
        self.time_ns = time_ns
        self.pulse_ns = pulse_ns
        self.score = 0.0
        self.heard = 1
        self.born = 0
        self.held_ns = -math.inf
        self.doubles = 0.0
        self._noise_ns2 = _NOISE_NS**2
        self._v_time, self._v_both, self._v_pulse = 1.0, 0.0, doubt_ns**2 / self._noise_ns2
        self._noise_weight = _NOISE_PULSES

    @property
    def noise_ns(self) -> float:
        """Jitter of a stamp, standard deviation."""
        return math.sqrt(self._noise_ns2)

    def ahead(self, pulses: int, price: float = 0.0) -> Track:
        """A copy that expects `pulses` more (0 or more); `price` is taken off its score."""
        new = Track.__new__(Track)
        new.index = self.index + pulses
        new.time_ns = self.time_ns + pulses * self.pulse_ns
        new.pulse_ns = self.pulse_ns
        new.score = self.score - price
        new.heard = self.heard
        new.born = self.born
        new.held_ns = -math.inf
        new.doubles = self.doubles
        new._v_time = self._v_time + pulses * (2 * self._v_both + pulses * self._v_pulse)
        new._v_both = self._v_both + pulses * self._v_pulse
        new._v_pulse = self._v_pulse
        new._noise_ns2, new._noise_weight = self._noise_ns2, self._noise_weight
        return new

    def loosen(self, time_ns: float, pulse_ns: float) -> Track:
        """Doubt the place and the slope by these standard deviations; returns itself."""
        self._v_time += time_ns**2 / self._noise_ns2
        self._v_pulse += pulse_ns**2 / self._noise_ns2
        return self

    def skip(self) -> Track:
        """Take a pulse for one too many; returns itself."""
        self.doubles += (1 - self.doubles) / MEMORY_PULSES
        return self

    def hold(self, at_ns: float) -> Track:
        """Take a pulse for one that was held up: its stamp says nothing; returns itself."""
        self.held_ns = at_ns
        return self

    def leap(self, at_ns: float) -> Track:
        """Begin a new phase with a stamp, the tempo kept; returns itself."""
        self.loosen(self.pulse_ns, 0.0)
        self._judge(at_ns - self.time_ns, self._v_time + 1)
        self.time_ns = at_ns
        self._v_time, self._v_both = 1.0, 0.0
        self.heard += 1
        return self

    def off(self, at_ns: float) -> float:
        """How far a stamp lies from the line, in standard deviations of what is expected."""
        return abs(at_ns - self.time_ns) / math.sqrt((self._v_time + 1) * self._noise_ns2)

    def hear(self, at_ns: float) -> Track:
        """Take in a stamp for the pulse that is expected now; returns itself."""
        error_ns = at_ns - self.time_ns
        spread = self._v_time + 1
        self._judge(error_ns, spread)
        weight, error2 = self._noise_weight, error_ns * error_ns / spread
        noise_ns2 = (weight * self._noise_ns2 + error2) / (weight + 1)
        self._noise_ns2 = max(noise_ns2, _LEAST_NOISE_NS**2)
        self._noise_weight = min(weight + 1, MEMORY_PULSES)
        gain_time, gain_pulse = self._v_time / spread, self._v_both / spread
        self.time_ns += gain_time * error_ns
        self.pulse_ns += gain_pulse * error_ns
        self._v_pulse = (self._v_pulse - gain_pulse * self._v_both) / _FADING
        self._v_both = (self._v_both - gain_pulse * self._v_time) / _FADING
        self._v_time = (self._v_time - gain_time * self._v_time) / _FADING
        self.heard += 1
        self.doubles -= self.doubles / MEMORY_PULSES
        return self

    def _judge(self, error_ns: float, spread: float) -> None:
        """Add the log-density of the error (Student's t, for the jitter is an estimate too)."""
        scale_ns2, freedom = spread * self._noise_ns2, self._noise_weight
        tail = math.log1p(error_ns * error_ns / (freedom * scale_ns2))
        self.score -= _HALF_LOG_2PI + (math.log(scale_ns2) + (freedom + 1) * tail) / 2
