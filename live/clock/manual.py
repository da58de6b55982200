"""A clock driven by hand, for the demo, the offline commands and the tests."""

from __future__ import annotations

from live.theory.errors import FieldError


class ManualClock:
    """Stands still until it is told to move.

    Args:
        start_ns: first reading.
    Thread: one.
    """

    def __init__(self, start_ns: int = 0) -> None:
        self._now_ns = start_ns

    def now_ns(self) -> int:
        """The present reading."""
        return self._now_ns

    def advance_to(self, at_ns: int) -> None:
        """Move to `at_ns`, which may not lie in the past (FieldError)."""
        if at_ns < self._now_ns:
            raise FieldError("clock time", f"{self._now_ns} ns or later", at_ns)
        self._now_ns = at_ns

    def advance(self, length_ns: int) -> None:
        """Move on by `length_ns`, 0 or more."""
        self.advance_to(self._now_ns + length_ns)
