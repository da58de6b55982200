"""Pitch bend of 16 channels and its range."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

CHANNELS: Final = 16
_CENTRE: Final = 8192
_DEFAULT_RANGE: Final = 2.0
"""Semitones either way; MIDI 1.0 Detailed Specification, Pitch Bend Sensitivity."""

_MOST_RANGE: Final = 24.0  # ours: a mistaken 127 must not throw the pitch out of hearing
_DATA_ENTRY: Final = 6
_RPN_LOW: Final = 100
_RPN_HIGH: Final = 101
_NRPN: Final = (98, 99)
_NO_PARAMETER: Final = (127, 127)
_BEND_RANGE_PARAMETER: Final = (0, 0)


class Bend:
    """Wheel positions and bend ranges (Registered Parameter 0, whole semitones up to 24).

    Thread: one, the one that renders.
    """

    def __init__(self) -> None:
        self.ratios: NDArray[np.float64] = np.ones(CHANNELS)
        """Frequency ratio for each channel."""
        self._wheel = [0.0] * CHANNELS  # -1 to 1
        self._range = [_DEFAULT_RANGE] * CHANNELS
        self._parameter = [_NO_PARAMETER] * CHANNELS  # (high, low) of the chosen parameter

    def wheel(self, channel: int, low: int, high: int) -> None:
        """Take a pitch-bend message: channel 0 to 15, its two data bytes."""
        self._wheel[channel] = (low + 128 * high - _CENTRE) / _CENTRE
        self._update(channel)

    def control(self, channel: int, number: int, value: int) -> None:
        """Take a controller; only those that choose and set the bend range do anything."""
        high, low = self._parameter[channel]
        if number == _RPN_HIGH:
            self._parameter[channel] = (value, low)
        elif number == _RPN_LOW:
            self._parameter[channel] = (high, value)
        elif number in _NRPN:
            self._parameter[channel] = _NO_PARAMETER
        elif number == _DATA_ENTRY and (high, low) == _BEND_RANGE_PARAMETER:
            self._range[channel] = min(float(value), _MOST_RANGE)
            self._update(channel)

    def centre(self, channel: int) -> None:
        """Put the wheel in the middle; the range stays (Recommended Practice 015)."""
        self._parameter[channel] = _NO_PARAMETER
        self._wheel[channel] = 0.0
        self._update(channel)

    def _update(self, channel: int) -> None:
        self.ratios[channel] = 2 ** (self._wheel[channel] * self._range[channel] / 12)
