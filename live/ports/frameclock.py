"""From moments of the monotonic clock to frames of an audio stream."""

from __future__ import annotations

from typing import Final

from live.clock.units import NS_PER_S


class FrameClock:
    """Tells at which frame of the stream a moment of the monotonic clock falls.

    The moments at which blocks are asked for wander with the load of the machine; a first-order
    filter takes that out and still follows a sound card whose clock is a little off.
    Thread: one, the audio callback's.
    """

    _FOLLOW: Final = 0.05  # part of the difference taken over in each block
    _JUMP_NS: Final = 50_000_000  # a larger difference is a new start

    def __init__(self, sample_rate_hz: int) -> None:
        self._frame_ns = NS_PER_S / sample_rate_hz
        self._start_ns = 0.0
        self._next_ns: float | None = None

    def block(self, now_ns: int, frames: int) -> None:
        """A block of `frames` is asked for at `now_ns`."""
        start_ns = float(now_ns)
        if self._next_ns is not None and abs(now_ns - self._next_ns) < self._JUMP_NS:
            start_ns = self._next_ns + self._FOLLOW * (now_ns - self._next_ns)
        self._start_ns = start_ns
        self._next_ns = start_ns + frames * self._frame_ns

    def offset(self, at_ns: int) -> int:
        """Frames from the start of this block; 0 for what is late already."""
        return max(0, round((at_ns - self._start_ns) / self._frame_ns))
