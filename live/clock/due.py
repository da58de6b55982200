"""A queue of things that are due at a tick, with a defined order at equal ticks."""

from __future__ import annotations

import heapq
from typing import Final, Generic, TypeVar

Item = TypeVar("Item")

RANK_OFF: Final = 0
"""Note-offs come first, so that a repeated note is heard again."""
RANK_SECTION: Final = 1
"""A section of the song begins before all that is counted from its first bar line."""
RANK_MARK: Final = 2
"""Marks of the form (where a part begins) come before the notes of that part."""
RANK_ON: Final = 3


class DueQueue(Generic[Item]):
    """Items ordered by tick, then rank, then the order in which they were added.

    Positions are ticks, not clock times, so that a change of tempo moves what is still due.
    Thread: one owner.
    """

    def __init__(self) -> None:
        self._heap: list[tuple[int, int, int, Item]] = []
        self._added = 0

    def __len__(self) -> int:
        return len(self._heap)

    def add(self, tick: int, rank: int, item: Item) -> None:
        """Put `item` in at `tick`; `rank` is one of the RANK constants."""
        self._added += 1
        heapq.heappush(self._heap, (tick, rank, self._added, item))

    def next_tick(self) -> int | None:
        """Tick of the first item, None when empty."""
        return self._heap[0][0] if self._heap else None

    def pop(self) -> tuple[int, Item]:
        """Take out the first item with its tick; IndexError when empty."""
        tick, _, _, item = heapq.heappop(self._heap)
        return tick, item

    def remove_from(self, tick: int, rank: int) -> None:
        """Drop every item of `rank` due at `tick` or later."""
        self._heap = [e for e in self._heap if e[0] < tick or e[1] != rank]
        heapq.heapify(self._heap)

    def clear(self) -> None:
        """Drop everything."""
        self._heap.clear()
