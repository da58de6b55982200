"""Key finding: which major or minor key is a whole piece in.

Its beginning and its end tell as much as its notes; the weights are learned (`key_table`).
`keyfollow` follows the key as it sounds.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from functools import lru_cache

from live.theory.errors import FieldError
from live.theory.key_table import WHOLE
from live.theory.keys import Key
from live.theory.pitch import Spelling
from live.theory.scales import find_scale

_FEW_NOTES = 8
"""Notes at which the evidence of a piece counts half, so that a scrap is not called certain."""
_SHARE_SCALE = 10.0
"""A piece tells about as much as ten notes that did not depend on each other (our choice)."""
_TOUCH_BEATS = 0.1
"""Ragged chords: what begins or still sounds within this time counts as together."""

# Sharps (flats below 0) of the twelve signatures in common use, in major and in minor.
_MAJOR_SIGNATURES = range(-5, 7)
_MINOR_SIGNATURES = range(-6, 6)


def _ranked(scores: Sequence[float]) -> list[tuple[Key, float]]:
    """Keys with probabilities, best first, from a logarithm for each of `_candidates`."""
    best = max(scores)
    shares = [math.exp(score - best) for score in scores]
    total = math.fsum(shares)
    ranked = [(key, share / total) for key, share in zip(_candidates(), shares, strict=True)]
    return sorted(ranked, key=lambda row: -row[1])


@lru_cache(maxsize=1)
def _candidates() -> tuple[Key, ...]:
    major, minor = find_scale("major"), find_scale("minor")
    majors = [Key(Spelling(sharps), major) for sharps in _MAJOR_SIGNATURES]
    minors = [Key(Spelling(sharps + 3), minor) for sharps in _MINOR_SIGNATURES]
    return (*majors, *minors)


def confidence(ranked: Sequence[tuple[Key, float]]) -> float:
    """How likely the best key is right: 1/24 (no idea) to 1 (certain)."""
    return ranked[0][1]


@lru_cache(maxsize=1)
def numbered_keys() -> tuple[tuple[int, Key], ...]:
    """The 24 keys with their numbers: the tonic's pitch class, and 12 more in minor."""
    return tuple((key.tonic_pc + 12 * key.scale.is_minor, key) for key in _candidates())


def find_piece_key(notes: Iterable[tuple[float, float, int]]) -> list[tuple[Key, float]]:
    """Rank the keys of a whole piece.

    Args:
        notes: (onset, length, MIDI note), onset and length in beats, in any order.
    Returns: (key, probability) of the 24 major and minor keys, best first; probabilities add up
        to 1. Equal ones keep this order: major before minor, then from flats to sharps. Without any
        note all are 1/24. How often the first is right, and its probability too: docs/theory.md.
    Raises: FieldError for an onset that is not finite, or a length that is negative or not finite.
    """
    layers = evidence_of_piece(notes)
    scores = []
    for index, _ in numbered_keys():
        minor, tonic = divmod(index, 12)
        rows = zip(WHOLE[minor], layers, strict=True)
        scores.append(
            math.fsum(row[pc - tonic] * layer[pc] for row, layer in rows for pc in range(12))
        )
    return _ranked(scores)


def evidence_of_piece(notes: Iterable[tuple[float, float, int]]) -> list[list[float]]:
    """What speaks for a key in a piece: three layers of 12 pitch classes (C = 0).

    Each one's share of all lengths, of ten; the lowest note of the beginning; the lowest that
    sounds when the last note begins. All are smaller for a piece of few notes.

    Raises: FieldError as in `find_piece_key`.
    """
    heard = list(notes)
    for onset, length, _ in heard:
        if not math.isfinite(onset):
            raise FieldError("note onset", "a finite number of beats", onset)
        _check(length)
    lengths, first, last = [0.0] * 12, [0.0] * 12, [0.0] * 12
    if not heard:
        return [lengths, first, last]
    trust = len(heard) / (len(heard) + _FEW_NOTES)
    total = math.fsum(length for _, length, _ in heard)
    for _, length, pitch in heard:
        lengths[pitch % 12] += length / total if total else 1 / len(heard)
    begin, end = min(heard)[0], max(heard)[0]
    first[min(p for o, _, p in heard if o <= begin + _TOUCH_BEATS) % 12] = trust
    sounding = [p for o, length, p in heard if o == end or o + length > end + _TOUCH_BEATS]
    last[min(sounding) % 12] = trust
    return [[_SHARE_SCALE * trust * share for share in lengths], first, last]


def _check(length: float) -> None:
    if not (math.isfinite(length) and length >= 0):
        raise FieldError("note length", "a finite number, 0 or more", length)
