"""Drums of a groove, worked out once from sines and shaped noise and then played back.

The shapes are our own taste; no source. Key numbers: General MIDI Level 1 Percussion Key Map.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from live.ports.limiter import Audio
from live.ports.voices import CHOKE_S, velocity_gain

KICK: Final = 36
SNARE: Final = 38
HAT: Final = 42
OPEN_HAT: Final = 46
RIDE: Final = 51
CLAVES: Final = 75
DRUM_KEYS: Final = {
    35: KICK, KICK: KICK, SNARE: SNARE, 40: SNARE, HAT: HAT, 44: HAT,
    OPEN_HAT: OPEN_HAT, RIDE: RIDE, 59: RIDE, CLAVES: CLAVES,
}  # fmt: skip
"""Keys that sound, and the one of our six drums they sound with; all other keys are silent."""

_STOPS: Final = {HAT: (HAT, OPEN_HAT), OPEN_HAT: (HAT, OPEN_HAT)}
"""Drums that end when one is struck, if not only its own kind: two hats are one pair of cymbals."""

_MOST_HITS: Final = 16
_ONSET_S: Final = 0.0015  # a drum's onset is its sound: short, but still a ramp
_TAIL_S: Final = 0.02
_NOISE_SEED: Final = 1  # the same hiss in every run


class Drums:
    """Plays hits; a drum struck again fades its former hit out within 8 ms.

    A hit runs to its end whatever the length of the note.
    Thread: one, the one that renders.
    """

    def __init__(self, sample_rate_hz: int) -> None:
        self._tables = drum_tables(sample_rate_hz)
        self._fade_frames = CHOKE_S * sample_rate_hz
        self._hits: list[Hit] = []
        self.dropped = 0  # hits refused because too many were still fading

    @property
    def sounding(self) -> int:
        """Hits that are not silent yet."""
        return len(self._hits)

    def start(self, note: int, velocity: int) -> None:
        """Strike a drum: any note 0 to 127, velocity 1 to 127."""
        drum = DRUM_KEYS.get(note)
        if drum is None:
            return
        table = self._tables[drum]
        stopped = [self._tables[other] for other in _STOPS.get(drum, (drum,))]
        for hit in self._hits:
            if any(hit.table is other for other in stopped):
                hit.fade()
        self._hits = [hit for hit in self._hits if hit.position or not hit.fading]
        if len(self._hits) >= _MOST_HITS:
            self.dropped += 1
            return
        self._strike(Hit(table, velocity_gain(velocity), self._fade_frames))

    def _strike(self, hit: Hit) -> None:
        self._hits.append(hit)

    def choke(self) -> None:
        """Fade every hit out within 8 ms."""
        for hit in self._hits:
            hit.fade()

    def clear(self) -> None:
        """Silence at once, without a ramp."""
        self._hits = []

    def render(self, frames: int) -> Audio | None:
        """The next `frames` of all hits together, or None when all are silent."""
        if not self._hits:
            return None
        out: Audio = np.zeros(frames, np.float32)
        for hit in self._hits:
            hit.add_to(out)
        self._hits = [hit for hit in self._hits if hit.position < hit.end]
        return out


class Hit:
    """One sounding hit.

    Args:
        table: its sound. gain: amplitude. fade_frames: length of its fade, should it be cut off.
    """

    __slots__ = ("_fade_frames", "_gain", "faded_at", "position", "table")

    def __init__(self, table: Audio, gain: float, fade_frames: float) -> None:
        self.table = table
        self.position = 0
        self.faded_at: int | None = None
        """Position at which a fade began, None before."""
        self._gain = np.float32(gain)
        self._fade_frames = fade_frames

    @property
    def fading(self) -> bool:
        """True once a fade has begun."""
        return self.faded_at is not None

    @property
    def end(self) -> float:
        """Position at which it is silent."""
        length = len(self.table)
        return length if self.faded_at is None else min(length, self.faded_at + self._fade_frames)

    def fade(self) -> None:
        """Begin to fade, unless it already does."""
        if self.faded_at is None:
            self.faded_at = self.position

    def sound(self, first: int, last: int) -> Audio:
        """From one position to another, or to the end of its table."""
        part: Audio = self.table[first:last] * self._gain
        if self.faded_at is not None and last > self.faded_at:
            left = self._fade_frames - (first - self.faded_at)
            ramp = (left - np.arange(len(part))) / self._fade_frames
            part *= np.clip(ramp, 0.0, 1.0).astype(np.float32)
        return part

    def add_to(self, out: Audio) -> None:
        """Add the next frames of the hit to `out`."""
        part = self.sound(self.position, self.position + len(out))
        out[: len(part)] += part
        self.position += len(out)


@lru_cache(maxsize=4)
def drum_tables(sample_rate_hz: int) -> dict[int, Audio]:
    """The sound of each drum by its key number, peaks from 1.4 (kick) to 0.25 (ride)."""
    rng = np.random.default_rng(_NOISE_SEED)
    kick_s, snare_s, hat_s = (_times(length, sample_rate_hz) for length in (0.4, 0.28, 0.09))
    kick = _sweep(kick_s, 170.0, 48.0, 0.035) * np.exp(-kick_s / 0.13)
    body = (_sweep(snare_s, 260.0, 185.0, 0.02) + 0.5 * _sweep(snare_s, 400.0, 330.0, 0.02)) * (
        np.exp(-snare_s / 0.055)
    )
    rattle = _noise(rng, snare_s, 900.0, 6500.0) * np.exp(-snare_s / 0.075)
    hiss = _noise(rng, hat_s, 6000.0, 11000.0) * np.exp(-hat_s / 0.018)
    return {
        KICK: _finish(kick, kick_s, 1.4),
        SNARE: _finish(body / 1.5 + 0.35 * rattle, snare_s, 0.8),
        HAT: _finish(hiss, hat_s, 0.3),
        **_cymbals(rng, sample_rate_hz),
    }


def _cymbals(rng: np.random.Generator, sample_rate_hz: int) -> dict[int, Audio]:
    """Open hat, ride (hiss over a bell of clashing sines) and claves (one short high sine)."""
    open_s, ride_s, claves_s = (_times(length, sample_rate_hz) for length in (0.4, 0.45, 0.1))
    open_hat = _noise(rng, open_s, 6000.0, 11000.0) * np.exp(-open_s / 0.11)
    wash = _noise(rng, ride_s, 5000.0, 12000.0) * np.exp(-ride_s / 0.1)
    bell = sum(np.sin(2 * np.pi * hz * ride_s) for hz in (3170.0, 4390.0, 5810.0))
    claves = np.sin(2 * np.pi * 2500.0 * claves_s) * np.exp(-claves_s / 0.02)
    return {
        OPEN_HAT: _finish(open_hat, open_s, 0.3),
        RIDE: _finish(wash + 0.15 * bell * np.exp(-ride_s / 0.06), ride_s, 0.25),
        CLAVES: _finish(claves, claves_s, 0.4),
    }


def _times(length_s: float, rate_hz: int) -> NDArray[np.float64]:
    return np.arange(round(length_s * rate_hz)) / rate_hz


def _sweep(
    t_s: NDArray[np.float64], start_hz: float, end_hz: float, fall_s: float
) -> NDArray[np.float64]:
    """A sine that falls from one frequency to another; its phase is the exact integral."""
    cycles = end_hz * t_s + (start_hz - end_hz) * fall_s * (1 - np.exp(-t_s / fall_s))
    return np.sin(2 * np.pi * cycles)


def _noise(
    rng: np.random.Generator, t_s: NDArray[np.float64], low_hz: float, high_hz: float
) -> NDArray[np.float64]:
    """Noise between two frequencies with soft edges, peak 1."""
    count = len(t_s)
    spectrum = np.fft.rfft(rng.standard_normal(count))
    hz = np.fft.rfftfreq(count, t_s[1])
    passed = 1 / ((1 + (low_hz / np.maximum(hz, 1.0)) ** 4) * (1 + (hz / high_hz) ** 4))
    noise = np.fft.irfft(spectrum * passed, count)
    scaled: NDArray[np.float64] = noise / np.abs(noise).max()
    return scaled


def _finish(sound: NDArray[np.float64], t_s: NDArray[np.float64], peak: float) -> Audio:
    """Ramps at both ends, then the wanted peak; read-only, since it is shared."""
    shaped = sound * np.minimum(t_s / _ONSET_S, 1.0) * np.minimum((t_s[-1] - t_s) / _TAIL_S, 1.0)
    table: Audio = (shaped * (peak / np.abs(shaped).max())).astype(np.float32)
    table.setflags(write=False)
    return table
