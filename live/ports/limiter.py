"""The last stage before the loudspeaker: bounded level, bounded steps, no jumps of the volume.

All classes here work on one channel, keep their state between blocks, and give the same samples
however the sound is cut into blocks. Thread: one, the one that renders.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

Audio = NDArray[np.float32]

CEILING: Final = 10 ** (-12 / 20)
"""Largest sample that ever leaves, 0.251 of full scale: -12 dBFS. Our choice, a cautious one."""

MAX_STEP: Final = 0.05
"""Largest difference between neighbouring samples that ever leaves; a larger one is a click."""

_SPAN: Final = 24  # frames over which the gain changes; half a millisecond at 48 kHz
_WATCHED_STEP: Final = 0.035  # the rest of MAX_STEP, 0.25 / _SPAN, is for the moving gain
_FALL_S: Final = 0.01
_RISE_DB_PER_S: Final = 30.0  # 3 dB in a tenth of a second: no gain ever rises faster


_LOUDEST_IN: Final = np.float32(1e4)  # keeps the arithmetic finite whatever comes in
_TOP: Final = np.nextafter(np.float32(CEILING), np.float32(0))


class Limiter:
    """Turns loud passages down smoothly, before they arrive.

    The sound is delayed by `delay_frames`, so that the gain is already down when a loud sample
    comes. Steep sound counts as loud: what would step by more than 0.035 between samples is turned
    down too, which also keeps the highest, most piercing sounds softer.
    """

    delay_frames: Final = 2 * _SPAN

    def __init__(self, sample_rate_hz: float) -> None:
        self._recovery = math.exp(_rise_per_frame(sample_rate_hz) * _SPAN)
        self._waiting: Audio = np.zeros(self.delay_frames, np.float32)  # heard of, not yet sent
        self._unread = 0  # frames at the end of _waiting that do not fill a span yet
        self._last = np.float32(0.0)  # the sample before those
        self._allowed = 1.0  # largest gain for the newest whole span
        self._gain = 1.0  # gain at the end of the span before that
        self._gains: Audio = np.ones(_SPAN, np.float32)  # known gains, from the next frame to send

    def process(self, block: Audio) -> Audio:
        """The next `len(block)` samples out; NaN and infinity count as silence."""
        clean = np.nan_to_num(block, nan=0.0, posinf=0.0, neginf=0.0)
        heard = np.concatenate((self._waiting, np.clip(clean, -_LOUDEST_IN, _LOUDEST_IN)))
        start = self.delay_frames - self._unread
        spans, self._unread = divmod(self._unread + len(block), _SPAN)
        if spans:
            self._read(heard[start : start + spans * _SPAN].reshape(spans, _SPAN))
        out = heard[: len(block)] * self._gains[: len(block)]
        self._waiting = heard[len(block) :]
        self._gains = self._gains[len(block) :]
        limited: Audio = np.clip(out, -_TOP, _TOP)
        return limited

    def _read(self, spans: Audio) -> None:
        """Read the level of whole spans; that settles the gain up to the last but one."""
        steps = np.abs(np.diff(spans.ravel(), prepend=self._last)).reshape(spans.shape)
        self._last = spans[-1, -1]
        excess = np.maximum(np.abs(spans).max(axis=1) / CEILING, steps.max(axis=1) / _WATCHED_STEP)
        if self._gain == self._allowed == 1.0 and excess.max() <= 1.0:  # as it mostly is
            self._gains = np.concatenate((self._gains, np.ones(spans.size, np.float32)))
            return
        corners = [self._gain]
        for allowed in (1.0 / np.maximum(1.0, excess)).tolist():
            self._gain = min(self._allowed, allowed, self._gain * self._recovery)
            self._allowed = allowed
            corners.append(self._gain)
        ends = np.array(corners, np.float32)[:, None]
        ramps = ends[:-1] + (ends[1:] - ends[:-1]) * _RAMP
        self._gains = np.concatenate((self._gains, ramps.ravel()))


_RAMP: Final[Audio] = np.arange(1, _SPAN + 1, dtype=np.float32) / np.float32(_SPAN)


class Volume:
    """A gain that moves without a click: down within 10 ms, up by at most 3 dB in 100 ms.

    Args:
        level_db: the gain in decibels, at first and as the aim.
    """

    def __init__(self, sample_rate_hz: float, level_db: float) -> None:
        self._rise = _rise_per_frame(sample_rate_hz)
        self._fall_frames = _FALL_S * sample_rate_hz
        self._gain = self._aim = 10 ** (level_db / 20)
        self._fall = 0.0

    def set(self, level_db: float) -> None:
        """Aim at another level."""
        self._aim = 10 ** (level_db / 20)
        self._fall = max(0.0, self._gain - self._aim) / self._fall_frames

    def apply(self, block: Audio) -> Audio:
        """The block at the volume it should have now."""
        if self._gain == self._aim:
            return block * np.float32(self._gain)
        frame = np.arange(1, len(block) + 1)
        if self._gain < self._aim:
            gains = np.minimum(self._aim, self._gain * np.exp(self._rise * frame))
        else:
            gains = np.maximum(self._aim, self._gain - self._fall * frame)
        self._gain = float(gains[-1])
        moved: Audio = block * gains.astype(np.float32)
        return moved


def _rise_per_frame(sample_rate_hz: float) -> float:
    """Natural logarithm of the factor by which a gain may rise in a frame."""
    return _RISE_DB_PER_S / 20 * math.log(10) / sample_rate_hz
