"""Whether a bass line has come round: it repeats what it began with.

The prefix function of Knuth, Morris & Pratt 1977 (SIAM Journal on Computing 6:323-350), note by
note, on pitch classes.
"""

from __future__ import annotations

from typing import Final, NamedTuple

MOST_NOTES: Final = 64
"""How much of the beginning is remembered (our choice)."""


class Least(NamedTuple):
    """What must have come again for a loop: notes in order, and the share of one time round."""

    notes: int
    share: float


ALONE: Final = Least(3, 1.0)
"""For a line: it may well go to and fro between two notes, and tunes take up how they began (our
choice)."""
UNDER_CHORDS: Final = Least(2, 0.5)
"""For a bass under chords (our choice)."""
MOST_AROUND: Final = 8
"""Notes of one time round; what is longer is a phrase that comes back, as in tunes (our choice)."""


class LoopSense:
    """Hears a line and tells whether it loops.

    Notes are pitch classes; one that is struck again at once is to be left out. Thread: one, the
    caller's.
    """

    def __init__(self, least: Least) -> None:
        """Hear a line of which so much must have come again before it is called a loop."""
        self._least = least
        self.reset()

    def reset(self) -> None:
        """Forget the line: the next note is its first."""
        self._notes: list[int] = []
        self._again: list[int] = []
        self._now = 0

    def hear(self, note: int) -> bool:
        """The next note. Returns: whether the line now loops."""
        self._now = self._next(note)
        looping = self._is_loop(self._now)
        if len(self._notes) < MOST_NOTES:
            self._notes.append(note)
            self._again.append(self._now)
        return looping

    def comes_round(self, note: int) -> bool:
        """Whether the line loops if this is its next note."""
        return self._is_loop(self._next(note))

    def _is_loop(self, again: int) -> bool:
        if len(self._notes) < MOST_NOTES:
            around = len(self._notes) + 1 - again
        else:
            around = MOST_NOTES - self._again[-1]
        return around <= MOST_AROUND and again >= max(self._least.notes, self._least.share * around)

    def _next(self, note: int) -> int:
        """How many of the first notes the line then ends on, without being all of it."""
        notes, again, now = self._notes, self._again, self._now
        if not notes:
            return 0
        if now == len(notes):
            now = again[now - 1]
        while now and notes[now] != note:
            now = again[now - 1]
        return now + (notes[now] == note)
