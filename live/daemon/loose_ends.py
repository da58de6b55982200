"""Loose ends: what ends the notes that a dead engine, or an output that went away, left sounding.

Each goes out as soon as its port is there, and once more when the port must have been joined: JACK
joins a port with one of its next periods only, and a server that does not wait for its clients
drops what it has no time for. A note that was left sounding has nobody else to end it.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Iterable
from typing import Final

from live.clock.units import NS_PER_S

AGAIN_NS: Final = NS_PER_S // 4
"""Until it is sent again: hundreds of periods, and well under what a held note may last after a
fault (own choice)."""

End = tuple[str, bytes]
"""(port, message)."""


class LooseEnds:
    """Keeps them until they have been sent twice.

    Args:
        would_end: True if a message sent on a port now would end what is meant to sound; then it
            is not sent the second time.
    Thread: the engine's.
    """

    def __init__(self, would_end: Callable[[str, bytes], bool]) -> None:
        self._would_end = would_end
        self._first: list[End] = []
        self._second: list[tuple[int, list[End]]] = []  # (when, what), in order of time

    def add(self, ends: Iterable[End]) -> None:
        """To be sent when their ports are there."""
        self._first += ends

    def take(self, now_ns: int, ports: Container[str]) -> list[End]:
        """What is to be sent now, in order.

        Args:
            now_ns: the time, not before that of the last call.
            ports: those that are open.
        """
        if not self._first and not self._second:
            return []
        ready: list[End] = []
        while self._second and self._second[0][0] <= now_ns:
            again = self._second.pop(0)[1]
            ready += [end for end in again if end[0] in ports and not self._would_end(*end)]
        new = [end for end in self._first if end[0] in ports]
        if new:
            self._first = [end for end in self._first if end[0] not in ports]
            self._second.append((now_ns + AGAIN_NS, new))
        return ready + new
