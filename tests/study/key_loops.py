"""Loops of the trade: those that tests judge by, and others, made by rule, to learn from.

That a loop is in the key of the chord or root it begins on is common practice, no source. No open
corpus of such loops with keys is known to us, so what is learned from is drawn at random: two to
four of a key's own chords, the first on the tonic; a judged loop is never among them.
"""

from __future__ import annotations

import random

Chord = tuple[int, tuple[int, ...]]
"""Root above the tonic, and tones above the root, in semitones."""

_MINOR_TRIAD, _MAJOR_TRIAD = (0, 3, 7), (0, 4, 7)
IN_MINOR: dict[str, Chord] = {
    "i": (0, _MINOR_TRIAD),
    "III": (3, _MAJOR_TRIAD),
    "iv": (5, _MINOR_TRIAD),
    "v": (7, _MINOR_TRIAD),
    "VI": (8, _MAJOR_TRIAD),
    "VII": (10, _MAJOR_TRIAD),
}
IN_MAJOR: dict[str, Chord] = {
    "I": (0, _MAJOR_TRIAD),
    "ii": (2, _MINOR_TRIAD),
    "IV": (5, _MAJOR_TRIAD),
    "V": (7, _MAJOR_TRIAD),
    "vi": (9, _MINOR_TRIAD),
}

# Common practice, no source.
MINOR_LOOPS = (
    *("i VI iv v", "i VI III VII", "i VII VI VII", "i iv", "i v", "i VI", "i VII"),
    *("i iv v iv", "i VII VI v", "i iv VI v", "i III VII iv", "i VI VII VII", "i VI VII i"),
    *("i iv VII III", "i v VI iv", "i i VI VII", "i III iv VI", "i VI iv VII", "i VII iv v"),
    "i i iv v",
)
MAJOR_LOOPS = ("I V vi IV", "I IV V IV", "I vi IV V", "I IV", "I V", "I IV vi V", "I ii IV V")
RIFFS = (
    *((0, 0, 3, 0, 5, 0, 7, 10), (0, 0, 10, 0, 0, 3, 5, 3), (0, 0, 2, 3), (0, 2, 3, 2)),
    *((0, 0, 0, 10, 0, 0, 3, 0), (0, 3, 5, 7, 5, 3), (0, 0, 7, 0, 10, 0, 7, 5)),
)
"""Bass riffs and drones in eighths: semitones above the tonic of a minor key."""

BASS_LOW, CHORDS_LOW = 36, 60
LINE_LENGTH = 32


def chords_of(loop: str, tonic: int) -> list[tuple[int, ...]]:
    """A root in the bass and a triad in close position for each numeral."""
    return [voiced(({**IN_MINOR, **IN_MAJOR})[name], tonic) for name in loop.split()]


def voiced(chord: Chord, tonic: int) -> tuple[int, ...]:
    """A root in the bass and a triad in close position."""
    root = (tonic + chord[0]) % 12
    return (BASS_LOW + root, *(CHORDS_LOW + (root + step) % 12 for step in chord[1]))


def roots_of(loop: str, tonic: int) -> list[int]:
    """The roots alone, in the bass."""
    return [chord[0] for chord in chords_of(loop, tonic)]


def drawn(rng: random.Random, count: int, *, minor: bool) -> list[list[Chord]]:
    """Loops by rule: none that is judged, none that stands on one chord or ends on the tonic."""
    chords = list((IN_MINOR if minor else IN_MAJOR).values())
    named = {**IN_MINOR, **IN_MAJOR}
    judged = [[named[name] for name in loop.split()] for loop in (*MINOR_LOOPS, *MAJOR_LOOPS)]
    found: list[list[Chord]] = []
    while len(found) < count:
        loop = [chords[0], *rng.choices(chords, k=rng.choice((1, 2, 3, 3, 3)))]
        still = any(one == other for one, other in zip(loop, loop[1:] + loop[:1], strict=True))
        if not still and loop not in judged:
            found.append(loop)
    return found
