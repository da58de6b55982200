"""The root of what sounded over a stretch of time, with passing notes among the chord's.

`chord_names` names a chord that is held; this finds the root of a bar or a beat of real music.
Every root adds up weights for what lies each interval above it, and the weights are learned
(`root_table`): share of the sounding time, presence, sounding at the start, the bass, sounding at
the end, and 20 chord shapes complete in the span or at its start.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from live.theory.errors import FieldError
from live.theory.root_table import WEIGHTS

SHAPES: tuple[tuple[int, ...], ...] = (
    *((0, 4, 7), (0, 3, 7), (0, 3, 6), (0, 4, 8), (0, 4, 10), (0, 3, 10)),
    *((0, 4, 7, 10), (0, 3, 7, 10), (0, 3, 6, 9), (0, 3, 6, 10), (0, 4, 7, 11)),
    *((3, 7), (4, 7), (0, 4), (0, 3), (0, 7), (4, 10), (3, 6), (0, 10), (0, 11)),
)
"""Chord shapes, in semitones above the root; also parts of chords, with and without the root."""

_MASKS = tuple(sum(1 << step for step in shape) for shape in SHAPES)
_TOUCH_BEATS = 1e-6


class SpanNote(NamedTuple):
    """A note of the span: where it sounds, in beats from the span's start, and its MIDI number.

    A note that was struck before the span has a start below 0.
    """

    start_beats: float
    length_beats: float
    pitch: int


Layers = tuple[tuple[float, ...], ...]
"""Five tuples by pitch class (C = 0): share of the sounding time, which adds up to 1; then 0 or 1
for present, sounding at the start, the bass, sounding at the end."""


class RootGuess(NamedTuple):
    """A root, pitch class 0 to 11, and its probability; those of all twelve add up to 1."""

    pitch_class: int
    probability: float


def evidence(notes: Sequence[SpanNote], length_beats: float) -> Layers:
    """Gather what `rank_roots` weighs, by pitch class.

    Args:
        notes: one or more, any order; what lies outside the span is cut off.
        length_beats: length of the span, above 0.
    Raises: FieldError when the span has no length or nothing sounds in it.
    """
    if not 0 < length_beats < math.inf:
        raise FieldError("span", "a length in beats above 0", length_beats)
    time, start, end = [0.0] * 12, [0.0] * 12, [0.0] * 12
    bass = low = 128
    for start_beats, note_beats, pitch in notes:
        stop = start_beats + note_beats
        inside = min(stop, length_beats) - max(start_beats, 0.0)
        if inside > _TOUCH_BEATS:
            time[pitch % 12] += inside
            end[pitch % 12] = max(end[pitch % 12], float(stop >= length_beats - _TOUCH_BEATS))
            low = min(low, pitch)
        if start_beats <= 0.0 < stop:
            start[pitch % 12] = 1.0
            bass = min(bass, pitch)
    total = sum(time)
    if total <= 0:
        raise FieldError("span", "one note or more that sounds in it", len(notes))
    lowest = (bass if bass < 128 else low) % 12
    return (
        tuple(share / total for share in time),
        tuple(float(share > 0) for share in time),
        tuple(start),
        tuple(float(pitch_class == lowest) for pitch_class in range(12)),
        tuple(end),
    )


def shapes_above(found: Layers, root: int) -> tuple[list[int], list[int]]:
    """Indices of the shapes that are whole above a root: in the span, and at its start."""
    whole, first = (_above(found[layer], root) for layer in (1, 2))
    return (
        [index for index, mask in enumerate(_MASKS) if mask & whole == mask],
        [index for index, mask in enumerate(_MASKS) if mask & first == mask],
    )


def _above(present: Sequence[float], root: int) -> int:
    return sum(1 << (pitch - root) % 12 for pitch in range(12) if present[pitch])


def rank_roots(
    notes: Sequence[SpanNote],
    length_beats: float,
    weights: Sequence[Sequence[float]] = WEIGHTS,
) -> tuple[RootGuess, ...]:
    """Rank all twelve roots of a span, the likeliest first.

    Args:
        notes: what sounds in the span.
        length_beats: length of the span, above 0.
        weights: five rows of 12 by interval above the root, two rows by shape, as `root_table`.
    Raises: FieldError as `evidence`.
    """
    found = evidence(notes, length_beats)
    scores = [0.0] * 12
    for layer, by_interval in zip(found, weights[:5], strict=True):
        for pitch_class, amount in enumerate(layer):
            if amount:
                for root in range(12):
                    scores[root] += amount * by_interval[pitch_class - root]
    for root in range(12):
        whole, first = shapes_above(found, root)
        scores[root] += sum(weights[5][index] for index in whole)
        scores[root] += sum(weights[6][index] for index in first)
    top = max(scores)
    likely = [math.exp(score - top) for score in scores]
    total = sum(likely)
    ranked = sorted(range(12), key=lambda root: (-scores[root], root))
    return tuple(RootGuess(root, likely[root] / total) for root in ranked)
