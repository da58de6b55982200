"""Looks up the learned table of `kinship_table`: a sum over small decision trees.

A tree asks three yes-no questions, whether a count is above a threshold, and its eight leaves are
log odds. All trees are gone through at once: each count has a mask with a byte for each tree that
keeps the leaves which this count does not rule out; after all masks the first leaf kept is the
one reached (Lucchese et al. 2015, QuickScorer, SIGIR).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from operator import getitem
from typing import Final

from live.answer.kinship_features import CALLED, COMPARED
from live.answer.kinship_table import TREES
from live.answer.kinship_words import WORDS

_NODES: Final = 7
_LEFT: Final = (0b1111, 0b11, 0b110000, 0b1, 0b100, 0b10000, 0b1000000)
"""Leaves under the left branch of each node, in the order root, its two children, their four."""

_ALL: Final = (1 << 8 * len(TREES)) - 1


def _means(leaves: Sequence[float], shares: Sequence[int]) -> list[float]:
    """Mean over strangers' answers at each node, the eight leaves last, in heap order."""
    weights = [0] * _NODES + [max(1, share) for share in shares]
    values = [0.0] * _NODES + list(leaves)
    for node in range(_NODES - 1, -1, -1):
        left, right = 2 * node + 1, 2 * node + 2
        weights[node] = weights[left] + weights[right]
        weighed = values[left] * weights[left] + values[right] * weights[right]
        values[node] = weighed / weights[node]
    return values


def _masks(feature: int) -> tuple[int, ...]:
    """For each value 0 to 255 of a count: the leaves of all trees that it does not rule out."""
    ruled_out: dict[int, int] = {}
    for tree, (questions, _, _) in enumerate(TREES):
        for node, (asked, threshold) in enumerate(questions):
            if asked == feature:
                mask = _LEFT[node] << 8 * tree
                ruled_out[threshold] = ruled_out.get(threshold, 0) | mask
    masks: list[int] = []
    gone = 0
    for value in range(256):
        gone |= ruled_out.get(value - 1, 0)
        masks.append(_ALL & ~gone if value - 1 in ruled_out or not masks else masks[-1])
    return tuple(masks)


_BY_FEATURE: Final = [_masks(feature) for feature in range(len(COMPARED) + len(CALLED))]
COMPARED_MASKS: Final = _BY_FEATURE[: len(COMPARED)]
"""For each count of COMPARED, for each of its values: a mask of the leaves that remain."""

_VALUES: Final = [_means(leaves, shares) for _, leaves, shares in TREES]
_REACHED: Final = [[value - values[0] for value in values[_NODES:]] for values in _VALUES]
_FIRST_BIT: Final = bytes([0, *((byte & -byte).bit_length() - 1 for byte in range(1, 256))])


def mask_of_call(called: Sequence[int]) -> int:
    """The leaves that remain when the call is known."""
    mask = _ALL
    for masks, value in zip(_BY_FEATURE[len(COMPARED) :], called, strict=True):
        mask &= masks[value]
    return mask


def sum_of(mask: int) -> float:
    """Sum of the leaves reached, less the mean of strangers' answers."""
    leaves = mask.to_bytes(len(TREES), "little").translate(_FIRST_BIT)
    return sum(map(getitem, _REACHED, leaves))


def parts_of(row: Sequence[int]) -> Iterator[tuple[str, float]]:
    """What each question on the way to the leaves adds, in words: (words, log odds)."""
    for (questions, _, _), values in zip(TREES, _VALUES, strict=True):
        node = 0
        for _ in range(3):
            feature, threshold = questions[node]
            below = 2 * node + 1 + (row[feature] > threshold)
            yield WORDS[feature], values[below] - values[node]
            node = below
