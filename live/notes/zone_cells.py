"""Which zones get which notes and velocities when the first that fits is used: plane geometry.

Notes fall into cells within which no zone begins or ends; in a cell the velocities of a zone are
the bits of a whole number.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Protocol


class Box(Protocol):
    """A range of notes and velocities, ends included."""

    @property
    def low(self) -> int:
        """Lowest note."""

    @property
    def high(self) -> int:
        """Highest note."""

    @property
    def min_velocity(self) -> int:
        """Lowest velocity."""

    @property
    def max_velocity(self) -> int:
        """Highest velocity."""


Share = tuple[int, int, int]
"""(place in the sequence, velocities it covers, velocities it gets), as bits from 1 to 127."""


def cells(boxes: Sequence[Box]) -> Iterator[list[Share]]:
    """For each cell of notes: who covers which velocities there, and who gets them, in order."""
    edges = sorted({box.low for box in boxes} | {box.high + 1 for box in boxes})
    for note in edges[:-1]:
        taken, shares = 0, []
        for place, box in enumerate(boxes):
            if box.low <= note <= box.high:
                covered = velocities(box)
                shares.append((place, covered, covered & ~taken))
                taken |= covered
        yield shares


def velocities(box: Box) -> int:
    """The velocities of a box, as bits."""
    return (2 << box.max_velocity) - (1 << box.min_velocity)


def reached(boxes: Sequence[Box]) -> list[int]:
    """Places of the boxes that get a note at all, in order."""
    found = {place for shares in cells(boxes) for place, _, gets in shares if gets}
    return sorted(found)
