"""Active sensing: an input that promised to keep talking and falls silent has gone.

MIDI 1.0, active sensing (FE): once it was received, a message of any kind is due at least every
300 ms; if none comes, the receiver turns its voices off and goes back to normal operation.
"""

from __future__ import annotations

from typing import Final

from live.notes.midi import ACTIVE_SENSING

SILENCE_NS: Final = 350_000_000
"""After this long without a message an input has gone: 300 ms and room for late delivery."""


class SensingWatch:
    """Watches the inputs that send active sensing. Thread: one owner."""

    def __init__(self) -> None:
        self._heard_ns: dict[int, int] = {}

    def hear(self, at_ns: int, source: int, status: int) -> None:
        """A message with this status byte came in."""
        if status == ACTIVE_SENSING or source in self._heard_ns:
            self._heard_ns[source] = at_ns

    def deadline_ns(self) -> int | None:
        """When the first watched input would count as gone; None if none is watched."""
        return min(self._heard_ns.values()) + SILENCE_NS if self._heard_ns else None

    def take_silent(self, now_ns: int) -> list[int]:
        """Sources that have gone; they are watched no longer."""
        gone = [s for s, heard_ns in self._heard_ns.items() if now_ns - heard_ns >= SILENCE_NS]
        for source in gone:
            del self._heard_ns[source]
        return gone
