"""Key following for playing of any kind: single lines, chords, and one after the other.

A line tells its key by its steps, chords by what sounds together (`keyfollow` has a follower for
each). Both listen; the share of notes lately played alone says how much each is believed.
"""

from __future__ import annotations

from typing import Final

from live.theory.keyfilter import KeyGuess, guessed
from live.theory.keyfollow import ChordFollower, LineFollower

FADING: Final = 1 / 8
"""How much the newest note counts in the share of notes played alone (own choice: the last eight
notes or so)."""


class PlayingFollower:
    """Follows the key of what one player plays.

    Thread: one, the caller's. Cost of `update`: about 11 us, no I/O, no randomness.
    """

    def __init__(self) -> None:
        self._line = LineFollower()
        self._chords = ChordFollower()
        self._down: set[int] = set()
        self._alone = 0.5

    def reset(self) -> None:
        """Forget everything, also what still sounds."""
        self._line.reset()
        self._chords.reset()
        self._down.clear()
        self._alone = 0.5

    def update(self, pitch: int, at_s: float) -> None:
        """Hear a note begin.

        Args:
            pitch: MIDI note, 0 to 127.
            at_s: when, in seconds of any clock that does not run back.
        Raises: FieldError for a pitch outside that range or a time that is not a number.
        """
        self._chords.update(pitch, at_s)
        alone = len(self._down) == (pitch in self._down)
        if alone:
            self._line.update(pitch)
        self._alone += FADING * (alone - self._alone)
        self._down.add(pitch)

    def release(self, pitch: int) -> None:
        """Hear a note end; one that does not sound is passed over."""
        self._down.discard(pitch)
        self._chords.release(pitch)

    def guess(self) -> KeyGuess:
        """The keys ranked: the mean of both, each believed by its share."""
        alone, chords = self._alone, self._chords.chances()
        rows = zip(self._line.chances(), chords, strict=True)
        return guessed([alone * line + (1 - alone) * chord for line, chord in rows])
