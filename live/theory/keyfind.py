"""Key finding: which major or minor key do these notes suggest.

Source: profiles of Albrecht & Shanahan 2013, used as a likelihood (sum of n log p).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from functools import lru_cache

from live.theory.errors import FieldError
from live.theory.keys import Key
from live.theory.pitch import Spelling
from live.theory.profiles import ALBRECHT_SHANAHAN_MAJOR, ALBRECHT_SHANAHAN_MINOR
from live.theory.scales import find_scale

PROBABILITY_FLOOR = 1e-4
"""Least probability of a pitch class, so that one stray note never rules a key out."""

# Sharps (flats below 0) of the twelve signatures in common use, in major and in minor.
_MAJOR_SIGNATURES = range(-5, 7)
_MINOR_SIGNATURES = range(-6, 6)


def rank_keys(weights: Sequence[float]) -> list[tuple[Key, float]]:
    """Rank the 24 major and minor keys.

    Args:
        weights: 12 values by pitch class (C = 0), counts or durations in units of one note, each
            finite and 0 or more.
    Returns: (key, probability), best first; probabilities add up to 1. Equal ones keep this order:
        major before minor, then from flats to sharps. Without any weight all are 1/24.
    Raises: FieldError for a wrong number of weights, or one that is negative or not finite.
    """
    if len(weights) != 12:
        raise FieldError("pitch-class weights", "12 values", len(weights))
    for weight in weights:
        _check(weight)
    keys = _candidates()
    scores = [_log_likelihood(weights, key) for key in keys]
    best = max(scores)
    shares = [math.exp(score - best) for score in scores]
    total = math.fsum(shares)
    ranked = [(key, share / total) for key, share in zip(keys, shares, strict=True)]
    return sorted(ranked, key=lambda row: -row[1])


@lru_cache(maxsize=1)
def _candidates() -> tuple[Key, ...]:
    major, minor = find_scale("major"), find_scale("minor")
    majors = [Key(Spelling(sharps), major) for sharps in _MAJOR_SIGNATURES]
    minors = [Key(Spelling(sharps + 3), minor) for sharps in _MINOR_SIGNATURES]
    return (*majors, *minors)


def _log_likelihood(weights: Sequence[float], key: Key) -> float:
    logs = _log_profile(minor=key.scale.is_minor)
    return math.fsum(
        weight * logs[(pitch_class - key.tonic_pc) % 12]
        for pitch_class, weight in enumerate(weights)
    )


@lru_cache(maxsize=2)
def _log_profile(*, minor: bool) -> tuple[float, ...]:
    """Logarithms of the profile, which is printed rounded and so first made to add up to 1."""
    profile = ALBRECHT_SHANAHAN_MINOR if minor else ALBRECHT_SHANAHAN_MAJOR
    total = math.fsum(profile)
    return tuple(math.log(max(share / total, PROBABILITY_FLOOR)) for share in profile)


def confidence(ranked: Sequence[tuple[Key, float]]) -> float:
    """How far the best key is ahead of the second: 0 (no idea) to 1 (certain)."""
    return max(0.0, min(1.0, ranked[0][1] - ranked[1][1]))


def find_key(notes: Iterable[tuple[int, float]]) -> list[tuple[Key, float]]:
    """Rank the keys for notes given as (MIDI note, weight), for example weight = length.

    The weights are scaled to a mean of one a note, so that their unit does not matter.

    Raises: FieldError as in `rank_keys`.
    """
    weights = [0.0] * 12
    count = 0
    for note, weight in notes:
        _check(weight)
        weights[note % 12] += weight
        count += 1
    total = math.fsum(weights)
    if total > 0:
        weights = [weight * count / total for weight in weights]
    return rank_keys(weights)


def _check(weight: float) -> None:
    if not (math.isfinite(weight) and weight >= 0):
        raise FieldError("note weight", "a finite number, 0 or more", weight)
