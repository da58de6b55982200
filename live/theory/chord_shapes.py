"""What a set of notes over its bass may be called: every reading with its cost, root and quality.

All is counted in semitones above the bass, so a shape is the same on every note. Sets of semitones
are masks: bit 0 the bass (or the root, for a quality), bit 11 a major seventh above it.

Each reading costs something; the bass decides where the notes alone do not. Costs are design
choices (common practice, no source), judged against the named cases in the tests: Am7 over A but C6
over C, Gsus4 over G but Csus2 over C.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from functools import lru_cache
from operator import itemgetter

from live.theory.chord_table import ADDED, ALIASES, QUALITIES
from live.theory.chords import canonical, intervals_of, with_added
from live.theory.pitch import mask_of

FOURTH = 1 << 5
"""The tone that is called an eleventh when it stands more than an octave above its root."""

Found = tuple[float, int, int, int, int | None]
"""Cost, root above the bass, mask of a quality that has a name and of what is added to it (both
above the root), inversion as in `chord_names.Reading`."""

_INVERTED = 1.0
_SLASH = 1.4
_PER_NOTE = 0.1
_NO_FIFTH = 0.3
_NO_THIRD = 1.5
_LOOSE = 0.5
_UNSTEADY = 0.4
_ADDED_COST = {"4": 0.7, "9": 0.7, "11": 0.7, "#11": 0.8, "13": 0.7, "b9": 1.0, "b13": 1.0}
_ODD_TONE = 1.4
_FORGOTTEN = 2.0
_RARITY = {"6": 0.15, "m6": 0.15, "6/9": 0.15, "m6/9": 0.15, "sus4": 0.1, "sus2": 0.15, "aug": 0.1}
_FAR = {"add4": "add11", "m(add4)": "m(add11)", "m7(add4)": "m7(add11)"}
_DYADS = ("(no5)", "m(no5)", "7(no3)(no5)", "maj7(no3)(no5)", "dim(no3)")
_LOOSE_BASES = (
    *("", "m", "5", "7", "maj7", "m7", "m7b5", "dim", "dim7", "aug", "mMaj7", "sus4", "sus2"),
    *("7(no5)", "maj7(no5)", "m7(no5)", "6", "m6", "7sus4", *_DYADS),
    *("6/9", "9", "maj9", "m9", "11", "m11", "13", "maj13"),
)
_ADDED_NEAR = [(1 << step % 12, name) for name, step in ADDED.items() if name != "11"]
_ADDED_FAR = [(1 << step % 12, name) for name, step in ADDED.items() if name != "4"]
_NAMES_NEAR, _NAMES_FAR = dict(_ADDED_NEAR), dict(_ADDED_FAR)
_TELLING = sum(1 << step for step in (3, 4, 7, 10, 11))
"""Tones that tell plain chords apart: thirds, fifth, sevenths."""
_SAME = 1e-9
"""Costs that differ by less are one sum, added up in another order."""


def ranked(shape: int, leading: int | None = None) -> tuple[Found, ...]:
    """Every reading of a shape, the cheapest first; never empty.

    Args:
        shape: mask of what sounds above the bass, of two to seven notes.
        leading: semitones from the bass up to the key's leading note, 0 to 11, None without a key:
            it is the root of a diminished seventh or augmented triad.
    """
    found = _in_key(shape, leading)
    most = found[0][0] + _FORGOTTEN
    return tuple(one for one in found if one[0] <= most)


def cheapest(shape: int, leading: int | None = None) -> Found:
    """The first of `ranked`."""
    return _in_key(shape, leading)[0]


@lru_cache(maxsize=4096)
def quality(base: int, rest: int, far: bool) -> tuple[str, tuple[int, ...]]:  # noqa: FBT001 - a cache key
    """Suffix and intervals of a reading.

    Args:
        base: mask of the quality, as in `Found`.
        rest: mask of what is added.
        far: whether the fourth is an eleventh.
    """
    if not rest:
        suffix, intervals = _NAMES[base]
        return (_FAR[suffix], QUALITIES[_FAR[suffix]]) if far and suffix in _FAR else _NAMES[base]
    plain, intervals, left_out = _PLAIN[base]
    names = [name for tone, name in (_ADDED_FAR if far else _ADDED_NEAR) if rest & tone]
    lowest = (_NAMES_FAR if far else _NAMES_NEAR)[rest & -rest]
    if f"{plain}add{lowest}" in ALIASES:
        names.remove(lowest)
        names.insert(0, lowest)
    suffix = with_added(plain, names) + left_out
    return suffix, tuple(sorted((*intervals, *[ADDED[name] for name in names])))


def _in_key(shape: int, leading: int | None) -> list[Found]:
    """`_found`, and what the leading note makes of it."""
    if leading is None or not (shape in _SYMMETRIC_SHAPES or shape & ~1 in _SYMMETRIC_SHAPES):
        return _found(shape)
    return _found_led(shape, leading)


@lru_cache(maxsize=1024)
def _found_led(shape: int, leading: int) -> list[Found]:
    """`_found` where the leading note is the root of a symmetric chord."""
    return sorted(((_led(one, leading), *one[1:]) for one in _found(shape)), key=_CHEAPER)


@lru_cache(maxsize=2048)
def _found(shape: int) -> list[Found]:
    """Every reading, the cheapest first; those of one cost from the bass up. Never change it."""
    found = _exact(shape)
    if shape not in _COSTS:  # no reading with the bass as its root as yet
        found += _loose(shape, range(1 if found else 12))
    found.sort(key=_CHEAPER)
    return found


def _exact(shape: int) -> list[Found]:
    """Readings that need nothing added: with the bass in the chord, and with the bass foreign."""
    twice, slashed = shape | shape << 12, shape.bit_count() > 3
    found: list[Found] = []
    for root in range(12):
        if shape >> root & 1:
            whole, bass = twice >> root & 0xFFF, -root % 12
            if whole in _COSTS and _CARRIED[whole] >> bass & 1:
                cost = _COSTS[whole] + (_INVERTED if root else 0.0)
                found.append((cost, root, whole, 0, _inversion(bass)))
            upper = whole & ~(1 << bass)
            if root and slashed and upper in _COSTS:
                found.append((_COSTS[upper] + _SLASH, root, upper, 0, None))
    return found


def _loose(shape: int, roots: Iterable[int]) -> list[Found]:
    """Readings with tones added to a plain chord: there is one for any set of notes."""
    twice = shape | shape << 12
    found: list[Found] = []
    for root in roots:
        best = _best_base(twice >> root & 0xFFF) if shape >> root & 1 else None
        if best is not None:
            cost, base, rest = best
            cost += _INVERTED if root else 0.0
            found.append((cost, root, base, rest, _inversion(-root % 12)))
    return found


def _best_base(mask: int) -> tuple[float, int, int] | None:
    """The cheapest plain chord within the tones above a root: cost, its mask and what is left.

    What is left costs by the tone, so the plain chord that saves most is the cheapest in any set.
    """
    best, least = None, math.inf
    for worth, cost, base in _BY_WORTH[mask & _TELLING]:
        if worth > least:
            break
        if base & mask == base:
            fit = cost + _REST_COSTS[mask ^ base], base, mask ^ base
            if best is None:
                best, least = fit, worth + _SAME
            elif fit < best:
                best = fit
    return best


def _led(found: Found, leading: int) -> float:
    cost, root, base, rest, _ = found
    led = root == leading and not rest and base in _SYMMETRIC_SHAPES
    return cost - _INVERTED - _PER_NOTE if led else cost


def _inversion(bass: int) -> int:
    return 0 if bass == 0 else 1 if bass <= 5 else 2 if bass <= 8 else 3


def _cost(suffix: str) -> float:
    cost = _PER_NOTE * max(0, len(intervals_of(suffix)) - 3)
    cost += _NO_FIFTH * ("no5" in suffix) + _NO_THIRD * ("no3" in suffix)
    return cost + _RARITY.get(suffix, 0.0)


def _names() -> dict[int, tuple[str, tuple[int, ...]]]:
    """Suffix and intervals by mask: every quality, those named without their fifth or third too.

    Sixths keep their fifth (C6 without it is Am over C), as do suspended ninths (C9sus4 without it
    is Bb over C).
    """
    sparse = [
        suffix + "(no5)"
        for suffix, intervals in QUALITIES.items()
        if 7 in intervals and {3, 4} & set(intervals) and "6" not in suffix and "4" not in suffix
    ]
    open_ = ["7(no3)", "maj7(no3)", "9(no3)", "maj9(no3)"]
    found: dict[int, tuple[str, tuple[int, ...]]] = {}
    for suffix in [*QUALITIES, *sparse, *open_, "7sus4(no5)", *_DYADS]:
        if suffix not in _FAR.values():
            known = canonical(suffix)
            found.setdefault(mask_of(intervals_of(known)), (known, intervals_of(known)))
    return found


def _carried(suffix: str, intervals: Iterable[int]) -> int:
    """Tones that may be the bass of an inversion; ninths and added tones make a slash."""
    mask = sum(1 << interval for interval in intervals if interval < 12)
    return mask & ~FOURTH if "add4" in suffix else mask


def _rest_costs() -> list[float]:
    """What each mask of added tones costs."""
    costs = [0.0]
    for step in range(12):
        price = _ADDED_COST.get(_NAMES_FAR[1 << step], _ODD_TONE) if step else 0.0
        costs += [cost + price for cost in costs]
    return costs


def _by_worth() -> dict[int, list[tuple[float, float, int]]]:
    """Plain chords by what of `_TELLING` they may hold: what each saves and costs, best first."""
    saving = sorted((cost - _REST_COSTS[base], cost, base) for base, cost in _BASE_COSTS.items())
    return {
        told: [row for row in saving if not row[-1] & _TELLING & ~told]
        for told in range(4096)
        if told & _TELLING == told
    }


_CHEAPER = itemgetter(0, 1)
_NAMES = _names()
_COSTS = {mask: _cost(suffix) for mask, (suffix, _) in _NAMES.items()}
_CARRIED = {mask: _carried(*name) for mask, name in _NAMES.items()}
_BASE_COSTS = {
    mask_of(intervals_of(suffix)): _LOOSE
    + _cost(suffix)
    + _UNSTEADY * suffix.startswith(("aug", "dim", "sus", "5"))
    for suffix in _LOOSE_BASES
}
_REST_COSTS = _rest_costs()
_BY_WORTH = _by_worth()
_PLAIN = {
    mask: (suffix.partition("(no")[0], intervals, "".join(suffix.partition("(no")[1:]))
    for mask, (suffix, intervals) in _NAMES.items()
}
_SYMMETRIC_SHAPES = {
    (mask << turn | mask << turn >> 12) & 0xFFF
    for mask in (mask_of(QUALITIES["aug"]), mask_of(QUALITIES["dim7"]))
    for turn in range(12)
}
