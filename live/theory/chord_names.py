"""Naming the chord of two to seven different notes: every reading, the likeliest first.

A reading is a root, a quality and what stands in the bass. Each costs something; the bass decides
where the notes alone do not. Costs are design choices (common practice, no source), judged against
the named cases in the tests: Am7 over A but C6 over C, Gsus4 over G but Csus2 over C.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from live.theory.chord_table import ADDED, QUALITIES
from live.theory.chords import Chord, canonical, intervals_of
from live.theory.errors import FieldError
from live.theory.keys import Key
from live.theory.pitch import Spelling

MAX_DIFFERENT = 7
"""Most pitch classes that make a chord: seven thirds, root to thirteenth."""

_INVERTED = 1.0
_SLASH = 1.4
_PER_NOTE = 0.1
_NO_FIFTH = 0.3
_NO_THIRD = 1.5
_LOOSE = 0.5
_UNSTEADY = 0.4
_ADDED_COST = {"4": 0.7, "9": 0.7, "11": 0.7, "#11": 0.8, "13": 0.7, "b9": 1.0, "b13": 1.0}
_ODD_TONE = 1.4
_SHARPNESS = 2.5
_FORGOTTEN = 2.0
_RARITY = {"6": 0.15, "m6": 0.15, "6/9": 0.15, "m6/9": 0.15, "sus4": 0.1, "sus2": 0.15, "aug": 0.1}
_SYMMETRIC = {"aug", "dim7"}
_FAR = {"add4": "add11", "m(add4)": "m(add11)", "m7(add4)": "m7(add11)"}
_DYADS = ("(no5)", "m(no5)", "7(no3)(no5)", "maj7(no3)(no5)", "dim(no3)")
_LOOSE_BASES = (
    *("", "m", "5", "7", "maj7", "m7", "m7b5", "dim", "dim7", "aug", "mMaj7", "sus4", "sus2"),
    *("7(no5)", "maj7(no5)", "m7(no5)", "6", "m6", "7sus4", *_DYADS),
    *("6/9", "9", "maj9", "m9", "11", "m11", "13", "maj13"),
)
_FLAT_ROOTS = (0, -5, 2, -3, 4, -1, 6, 1, -4, 3, -2, 5)
_SHARP_ROOTS = (0, 7, 2, 9, 4, -1, 6, 1, 8, 3, -2, 5)
_ADDED_BY_STEP = {interval % 12: name for name, interval in ADDED.items() if name != "4"}
_ADDED_BY_STEP[3] = "#9"


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
    return chord_readings(notes, key)[0].chord


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
    sounding = sorted(set(notes))
    if sounding and not (sounding[0] >= 0 and sounding[-1] <= 127):
        raise FieldError("chord", "MIDI notes 0 to 127 inclusive", sounding)
    lowest = {note % 12: note for note in reversed(sounding)}
    if not 2 <= len(lowest) <= MAX_DIFFERENT:
        allowed = f"2 to {MAX_DIFFERENT} different notes, octaves counted once"
        raise FieldError("chord", allowed, sounding)
    far = 0
    for root, note in lowest.items():
        fourth = lowest.get((root + 5) % 12)
        if fourth is not None and fourth > note + 12:
            far |= 1 << root
    return _readings(tuple(lowest), sounding[0] % 12, far, key)


@lru_cache(maxsize=4096)
def _readings(
    pitches: tuple[int, ...], bass: int, far: int, key: Key | None
) -> tuple[Reading, ...]:
    """The readings of pitch classes over a bass in a key.

    `far` is the mask of those whose fourth above is more than an octave away: an eleventh.
    """
    found = _exact(pitches, bass, far)
    if all(root != bass for _, root, _, _ in found):
        found += _loose(pitches, bass, far, (bass,) if found else pitches)
    if key is not None:
        leading = (key.tonic_pc - 1) % 12
        found = [(_led(*entry, leading), *entry[1:]) for entry in found]
    found.sort(key=lambda entry: (entry[0], (entry[1] - bass) % 12))
    found = [entry for entry in found if entry[0] <= found[0][0] + _FORGOTTEN]
    return _weighed(found, bass, key)


_Found = tuple[float, int, str, int | None]
"""Cost, root pitch class, suffix, inversion."""


def _exact(pitches: tuple[int, ...], bass: int, far: int) -> list[_Found]:
    """Readings that need nothing added: with the bass in the chord, and with the bass foreign."""
    whole = sum(1 << pitch for pitch in pitches)
    found: list[_Found] = []
    for root in pitches:
        own = _BY_MASK.get(_above(whole, root))
        inversion = _inversion((bass - root) % 12)
        if own is not None:
            suffix, cost = own
            if suffix in _FAR and far >> root & 1:
                suffix = _FAR[suffix]
            if root == bass or _carries(suffix, (bass - root) % 12):
                found.append((cost + (_INVERTED if root != bass else 0), root, suffix, inversion))
        if root != bass and len(pitches) > 3:
            upper = _BY_MASK.get(_above(whole & ~(1 << bass), root))
            if upper is not None:
                suffix, cost = upper
                if suffix in _FAR and far >> root & 1:
                    suffix = _FAR[suffix]
                found.append((cost + _SLASH, root, suffix, None))
    return found


def _loose(pitches: tuple[int, ...], bass: int, far: int, roots: tuple[int, ...]) -> list[_Found]:
    """Readings with tones added to a plain chord: there is one for any set of notes."""
    whole = sum(1 << pitch for pitch in pitches)
    fits = []
    for root in roots:
        best = _best_base(_above(whole, root))
        if best is not None:
            fits.append((best[0] + (_INVERTED if root != bass else 0), root, best[1]))
    worst = min(fits)[0] + _FORGOTTEN if fits else 0.0
    return [
        (cost, root, _loose_suffix(*base, bool(far >> root & 1)), _inversion((bass - root) % 12))
        for cost, root, base in fits
        if cost <= worst
    ]


@lru_cache(maxsize=4096)
def _best_base(mask: int) -> tuple[float, tuple[int, int]] | None:
    """The cheapest plain chord within the tones above a root: cost, its mask and what is left."""
    fits = [
        (_BASE_COSTS[base] + _REST_COSTS[mask & ~base], (base, mask & ~base))
        for base in _BASES
        if not base & ~mask
    ]
    return min(fits, default=None)


def _weighed(found: list[_Found], bass: int, key: Key | None) -> tuple[Reading, ...]:
    weights = [math.exp(_SHARPNESS * (found[0][0] - cost)) for cost, *_ in found]
    total = sum(weights)
    return tuple(
        Reading(_chord(root, suffix, bass, key), inversion, weight / total)
        for weight, (_, root, suffix, inversion) in zip(weights, found, strict=True)
    )


@lru_cache(maxsize=4096)
def _chord(root: int, suffix: str, bass: int, key: Key | None) -> Chord:
    """The chord with its root spelled in the key, or as the trade writes it, and the bass in it."""
    minor = 3 in intervals_of(suffix)
    plain = Spelling((_SHARP_ROOTS if minor else _FLAT_ROOTS)[root])
    spelled = plain if key is None else key.spell(root).enharmonic(1, 1)
    own = Chord(spelled, intervals_of(suffix), suffix)
    if bass == root:
        return own
    low = own.spell(bass) or (Spelling(_FLAT_ROOTS[bass]) if key is None else key.spell(bass))
    return Chord(spelled, own.intervals, suffix, low.enharmonic(1, 1))


def _above(mask: int, root: int) -> int:
    """The pitch classes of a mask as semitones above the root."""
    return (mask >> root | mask << (12 - root)) & 0xFFF


def _inversion(step: int) -> int:
    return 0 if step == 0 else 1 if step <= 5 else 2 if step <= 8 else 3


def _carries(suffix: str, step: int) -> bool:
    """Whether the tone may be the bass of an inversion; ninths and added tones make a slash."""
    return step in intervals_of(suffix) and not (step == 5 and "add4" in suffix)


def _led(cost: float, root: int, suffix: str, _inversion: int | None, leading: int) -> float:
    return cost - _INVERTED - _PER_NOTE if suffix in _SYMMETRIC and root == leading else cost


def _mask(intervals: Iterable[int]) -> int:
    return sum(1 << interval % 12 for interval in intervals)


def _cost(suffix: str) -> float:
    cost = _PER_NOTE * max(0, len(intervals_of(suffix)) - 3)
    cost += _NO_FIFTH * ("no5" in suffix) + _NO_THIRD * ("no3" in suffix)
    return cost + _RARITY.get(suffix, 0.0)


def _named_masks() -> dict[int, tuple[str, float]]:
    """Suffix and cost by mask: every quality, those that keep their name without a fifth or third.

    Sixths keep their fifth (C6 without it is Am over C), as do suspended ninths (C9sus4 without it
    is Bb over C).
    """
    sparse = [
        suffix + "(no5)"
        for suffix, intervals in QUALITIES.items()
        if 7 in intervals and {3, 4} & set(intervals) and "6" not in suffix and "4" not in suffix
    ]
    open_ = ["7(no3)", "maj7(no3)", "9(no3)", "maj9(no3)"]
    found: dict[int, tuple[str, float]] = {}
    for suffix in [*QUALITIES, *sparse, *open_, "7sus4(no5)", *_DYADS]:
        if suffix not in _FAR.values():
            known = canonical(suffix)
            found.setdefault(_mask(intervals_of(known)), (known, _cost(known)))
    return found


_BY_MASK = _named_masks()
_BASES = {_mask(intervals_of(suffix)): suffix for suffix in _LOOSE_BASES}


def _rest_cost(rest: int) -> float:
    names = [_ADDED_BY_STEP[step] for step in range(1, 12) if rest >> step & 1]
    return sum(_ADDED_COST.get(name, _ODD_TONE) for name in names)


_BASE_COSTS = {
    mask: _LOOSE + _cost(suffix) + _UNSTEADY * suffix.startswith(("aug", "dim", "sus", "5"))
    for mask, suffix in _BASES.items()
}
_REST_COSTS = tuple(_rest_cost(rest) for rest in range(4096))


@lru_cache(maxsize=4096)
def _loose_suffix(base: int, rest: int, far: bool) -> str:  # noqa: FBT001 - a cache key
    names = [_ADDED_BY_STEP[step] for step in range(1, 12) if rest >> step & 1]
    added = "".join("add" + ("4" if name == "11" and not far else name) for name in names)
    bare, mark, left_out = _BASES[base].partition("(no")
    return canonical(bare + added + mark + left_out)
