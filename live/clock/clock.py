"""The clock as an interface, so that everything timed can be driven by hand."""

from __future__ import annotations

import time
from typing import Protocol


class Clock(Protocol):
    """Tells monotonic time in nanoseconds."""

    def now_ns(self) -> int:
        """Nanoseconds since an arbitrary origin; never goes back."""


class MonotonicClock:
    """The system's monotonic clock."""

    def now_ns(self) -> int:
        """Nanoseconds of `time.monotonic_ns`."""
        return time.monotonic_ns()
