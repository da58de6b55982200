"""Naming the chord of two to seven different notes: every reading, the likeliest first.

A reading is a root, a quality and what stands in the bass. Which there are and what each costs is
in `chord_shapes`; here notes become a shape, and a reading a chord spelled in the key.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from live.theory.chord_shapes import FOURTH, Found, cheapest, quality, ranked
from live.theory.chords import Chord, spelled_above
from live.theory.errors import FieldError
from live.theory.keys import Key
from live.theory.pitch import PITCH_CLASS_BITS, Spelling

MAX_DIFFERENT = 7
"""Most pitch classes that make a chord: seven thirds, root to thirteenth."""

_SHARPNESS = 2.5
_FLAT_ROOTS = tuple(map(Spelling, (0, -5, 2, -3, 4, -1, 6, 1, -4, 3, -2, 5)))
_SHARP_ROOTS = tuple(map(Spelling, (0, 7, 2, 9, 4, -1, 6, 1, 8, 3, -2, 5)))


@dataclass(frozen=True, slots=True)
class Reading:
    """One way to name what sounds.

    Args:
        chord: root, quality and, unless the root is lowest, the bass.
        inversion: 0 with the root lowest, 1 the third (or the tone that hangs in its place), 2 the
            fifth, 3 the sixth or seventh; None when the lowest note is foreign to the chord.
        score: share of all readings of these notes, above 0 to 1; they add up to 1.
    """

    chord: Chord
    inversion: int | None
    score: float


def name_chord(notes: Iterable[int], key: Key | None = None) -> Chord:
    """Return the likeliest chord of the notes; see `chord_readings`."""
    sounding, shape = _heard(notes)
    return _named(cheapest(shape, _leading(sounding, key)), sounding, key)


def chord_readings(notes: Iterable[int], key: Key | None = None) -> tuple[Reading, ...]:
    """Name what sounds.

    Args:
        notes: MIDI notes 0 to 127 in any order and octave, repeats allowed; the lowest is the bass.
        key: spells the root, and decides the root of a diminished seventh or augmented triad that
            holds the key's leading note; without it the bass does.
    Returns: readings, the best first; never empty.
    Raises: FieldError for fewer than two or more than seven different notes (octaves count once),
        and for a number that is no MIDI note.
    """
    sounding, shape = _heard(notes)
    found = ranked(shape, _leading(sounding, key))
    weights = [math.exp(_SHARPNESS * (found[0][0] - cost)) for cost, *_ in found]
    total = sum(weights)
    return tuple(
        Reading(_named(one, sounding, key), one[-1], weight / total)
        for one, weight in zip(found, weights, strict=True)
    )


def _heard(notes: Iterable[int]) -> tuple[list[int], int]:
    """The notes from the lowest up, and their shape: a mask of semitones above the lowest."""
    sounding = sorted(set(notes))
    shape = 0
    if sounding:
        low = sounding[0]
        if low < 0 or sounding[-1] > 127:
            raise FieldError("chord", "MIDI notes 0 to 127 inclusive", sounding)
        for note in sounding:
            shape |= PITCH_CLASS_BITS[note - low]
    if not 2 <= shape.bit_count() <= MAX_DIFFERENT:
        allowed = f"2 to {MAX_DIFFERENT} different notes, octaves counted once"
        raise FieldError("chord", allowed, sounding)
    return sounding, shape


def _leading(sounding: Sequence[int], key: Key | None) -> int | None:
    """Semitones from the lowest note up to the key's leading note."""
    return None if key is None else (key.tonic_pc - 1 - sounding[0]) % 12


def _named(found: Found, sounding: Sequence[int], key: Key | None) -> Chord:
    """The chord of a reading."""
    _, above, base, rest, _ = found
    bass = sounding[0] % 12
    root = (bass + above) % 12
    far = (base | rest) & FOURTH != 0 and _is_far(sounding, root)
    return _chord(root, base, rest, far, bass, key)


def _is_far(sounding: Sequence[int], root: int) -> bool:
    """Whether a root's fourth is more than an octave above it."""
    fourth = (root + 5) % 12
    low = next(note for note in sounding if note % 12 == root)
    return next(note for note in sounding if note % 12 == fourth) > low + 12


@lru_cache(maxsize=4096)
def _chord(
    root: int,
    base: int,
    rest: int,
    far: bool,  # noqa: FBT001 - a cache key
    bass: int,
    key: Key | None,
) -> Chord:
    """The chord with its root spelled in the key, or as the trade writes it, and the bass in it."""
    suffix, intervals = quality(base, rest, far)
    if key is not None:
        spelled = key.spell(root).enharmonic(1, 1)
    else:
        spelled = (_SHARP_ROOTS if 3 in intervals else _FLAT_ROOTS)[root]
    if bass == root:
        return Chord(spelled, intervals, suffix)
    low = spelled_above(spelled, suffix, intervals, (bass - root) % 12)
    if low is None:
        low = _FLAT_ROOTS[bass] if key is None else key.spell(bass)
    return Chord(spelled, intervals, suffix, low.enharmonic(1, 1))
