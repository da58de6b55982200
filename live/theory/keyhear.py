"""What the key followers hear in chords beside their notes: a shape, and where a phrase begins."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Final

from live.theory.pitch import PITCH_CLASS_BITS, mask_of

LONG_GAP: Final = 1.6
"""An onset this many mean gaps after the one before begins a phrase; the key moves more readily."""
GAP_GAIN: Final = 0.15
"""How much the newest gap counts for the mean; both found on the chorales learned from."""
MOST_GAPS: Final = 4.0
"""A longer pause counts as this many mean gaps for the mean (our choice)."""

WIDEST_STEP: Final = 2
"""Semitones of a whole tone; what is wider is a leap, whose direction tells (our choice)."""

SHAPES: Final = (
    ((0, 4, 7), 0),
    ((0, 3, 7), 1),
    ((0, 3, 6), 2),
    ((0, 4, 8), 2),
    ((0, 4, 7, 10), 3),
    ((0, 4, 7, 11), 4),
    ((0, 3, 7, 10), 5),
    ((0, 3, 6, 10), 6),
    ((0, 3, 6, 9), 6),
)
"""Chords by semitones above the root, and the row of `CHORDS_SHAPE` that weighs them."""
_FOREIGN, _MISSING, _SIZE, _ROOT_LOW = 1.0, 1.2, 0.02, 0.3
"""What a note outside the chord, a missing one and a larger chord cost, and what a root in the
bass is worth, in notes of the chord (our choice)."""
_FITS: Final = tuple(
    (
        sum(1 << (root + step) % 12 for step in steps),
        _ROOT_LOW * (root == 0) - len(steps) * (_MISSING + _SIZE),
        (root, shape),
    )
    for root in range(12)
    for steps, shape in SHAPES
)
"""Each chord on each root above the bass: its mask, what it is worth without its notes, itself."""


class Sounding:
    """What sounds, and what of it was struck in this onset.

    Fields: struck and sounding, pitch-class masks; low and top, MIDI notes, once one is struck.
    They hold from each `strike` on. Thread: one, the caller's.
    """

    def __init__(self) -> None:
        self.reset()

    def reset(self) -> None:
        """Nothing sounds."""
        self.struck = self.sounding = 0
        self.low, self.top = 128, -1
        self._struck: set[int] = set()
        self._notes: set[int] = set()
        self._ended = False

    def begin(self) -> None:
        """An onset begins: nothing is struck in it yet."""
        self.struck = 0
        self._struck.clear()

    def strike(self, pitch: int) -> None:
        """A note begins, or begins again."""
        self.struck |= PITCH_CLASS_BITS[pitch]
        self._struck.add(pitch)
        self._notes.add(pitch)
        if self._ended:
            self._ended = False
            self.low, self.top = min(self._notes), max(self._notes)
            self.sounding = mask_of(self._notes)
            return
        self.sounding |= PITCH_CLASS_BITS[pitch]
        if pitch < self.low:
            self.low = pitch
        if pitch > self.top:
            self.top = pitch

    def release(self, pitch: int) -> None:
        """A note ends; one that does not sound is passed over."""
        if pitch in self._notes:
            self._notes.discard(pitch)
            self._ended = True

    def is_struck(self, pitch: int) -> bool:
        """Whether this very note was struck in this onset."""
        return pitch in self._struck


def is_struck_anew(struck: int, sounding: int) -> bool:
    """Whether a chord is struck, not a note that passes: more than half of what sounds.

    Both are pitch-class masks.
    """
    return 2 * struck.bit_count() > sounding.bit_count()


def is_leap(before: int, now: int) -> bool:
    """Whether it is more than a whole tone from one MIDI note to the next, and no octave."""
    return abs(now - before) > WIDEST_STEP and (now - before) % 12 != 0


def phrase_begins(gap: float, mean: float) -> tuple[bool, float]:
    """Whether an onset begins a phrase.

    Args:
        gap: time since the onset before, 0 or more.
        mean: mean gap so far, in the same unit; 0 if there is none yet.
    Returns: whether, and the mean gap from now on.
    """
    if mean == 0:
        return False, gap
    return gap > LONG_GAP * mean, mean + GAP_GAIN * (min(gap, MOST_GAPS * mean) - mean)


def shape_of(sounding: int, low: int) -> tuple[int, int]:
    """The chord that fits a pitch-class mask best.

    Args:
        sounding: a bit for each pitch class, C the lowest.
        low: pitch class of the lowest note.
    Returns: the root's pitch class and the row of `CHORDS_SHAPE`.
    """
    root, shape = _shape_above((sounding >> low | sounding << (12 - low)) & 0xFFF)
    return (low + root) % 12, shape


@lru_cache(maxsize=2048)
def _shape_above(sounding: int) -> tuple[int, int]:
    """`shape_of` what sounds above the bass, the root counted from there too.

    A note outside costs every chord the same before one that is inside makes up for it.
    """
    each = 1.0 + _FOREIGN + _MISSING
    best, found = -math.inf, (0, 0)
    for mask, worth, fit in _FITS:  # from the bass up, so that ties are the same in every key
        score = each * (sounding & mask).bit_count() + worth
        if score > best:
            best, found = score, fit
    return found
