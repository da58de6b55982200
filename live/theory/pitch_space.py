"""Tonal pitch space: how deep a note lies in a key, how far a chord lies from another.

Source: Lerdahl 2001, Tonal Pitch Space, chapter 2: the basic space (figure 2.4) and the chord
distance rule, delta = i + j + k.
"""

from __future__ import annotations

from functools import lru_cache

from live.theory.errors import FieldError
from live.theory.keys import Key

_DEGREES = 7
_THIRD, _FIFTH = 2, 4  # scale steps above the root

MAX_DEPTH = 4
"""Depth of a note outside the key; the tonic's is 0."""


@lru_cache(maxsize=256)
def depths(key: Key) -> tuple[int, ...]:
    """How deep each pitch class (C first) lies in the basic space of the key's tonic chord.

    Returns: 0 the tonic, 1 the fifth, 2 the third of the tonic chord, 3 the rest of the scale, 4
        outside; a chord note that the scale lacks counts as outside.
    """
    third = 3 if key.scale.is_minor else 4
    by_step = dict.fromkeys(key.scale.steps, 3) | {0: 0}
    for step, depth in ((7, 1), (third, 2)):
        if step in key.scale.steps:
            by_step[step] = depth
    return tuple(by_step.get((note - key.tonic_pc) % 12, MAX_DEPTH) for note in range(12))


def chord_distance(first: int, second: int) -> int:
    """Distance between the triads on two degrees of one seven-note key.

    Args:
        first: degree of the root, 1 to 7.
        second: likewise.
    Returns: j + k (i, the way between two keys, is 0 in one key): j is the number of steps of a
        fifth within the scale between the roots, the shorter way round, and k the number of entries
        of the second chord's basic space that the first chord's lacks. From 1: 0 8 7 5 5 7 8.
    Raises: FieldError when a degree is not 1 to 7.
    """
    for degree in (first, second):
        if not 1 <= degree <= _DEGREES:
            raise FieldError("degree", f"1 to {_DEGREES}, both included", degree)
    # A fifth is four scale steps, and 2 * 4 is 1 modulo 7.
    fifths = (second - first) * 2 % _DEGREES
    steps = min(fifths, _DEGREES - fifths)
    return steps + len(_entries(second) - _entries(first))


def _entries(root: int) -> frozenset[tuple[int, int]]:
    """(level, degree) of the levels that differ between chords: root, fifth, chord."""
    fifth, third = ((root - 1 + step) % _DEGREES + 1 for step in (_FIFTH, _THIRD))
    return frozenset({(0, root), (1, root), (1, fifth), (2, root), (2, third), (2, fifth)})
