"""Small trees grown on choices: gradient boosting of a conditional logit.

Friedman 2001, Annals of Statistics 29:1189-1232; the loss is that of a choice among candidates,
McFadden 1974. Everything is seeded, so that the same items always give the same trees.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

SEED = 4
TREES, RATE, RIDGE = 300, 0.12, 3.0
FEATURE_SHARE = 0.4
SLOPE_HELD = 0.985
"""Share of the slope that the rows hold on which a tree is grown."""
LEAST_ROWS = 150
LATER_WEIGHT = 0.35
BINS = 24
NEVER = 255

Tree = tuple[tuple[tuple[int, int], ...], tuple[float, ...], tuple[int, ...]]


@dataclass(frozen=True)
class Items:
    """Choices: counts of shape (items, candidates, counts), the true answer first."""

    counts: np.ndarray
    family: np.ndarray
    first: np.ndarray

    def of(self, chosen: np.ndarray) -> Items:
        return Items(self.counts[chosen], self.family[chosen], self.first[chosen])


class Binned:
    """Counts in at most BINS classes each, cut where the items are."""

    def __init__(self, counts: np.ndarray) -> None:
        self.cuts = []
        binned = np.empty(counts.shape, dtype=np.uint8)
        for feature in range(counts.shape[1]):
            column = counts[:, feature]
            cuts = np.unique(np.quantile(column, np.linspace(0, 1, BINS)[:-1], method="lower"))
            self.cuts.append(cuts.astype(int))
            binned[:, feature] = np.searchsorted(cuts, column, side="left")
        self.bins = binned


def grow(binned: Binned, slope: np.ndarray, bend: np.ndarray, rng: np.random.Generator) -> Tree:
    """A tree of depth three that lowers the loss most, by a Newton step in each leaf."""
    rows = _steepest(np.abs(slope))
    many = binned.bins.shape[1]
    features = np.sort(rng.choice(many, round(FEATURE_SHARE * many), replace=False))
    cells = binned.bins[np.ix_(rows, features)].astype(np.int32)
    cells += BINS * np.arange(len(features), dtype=np.int32)
    steep, bent = slope[rows], bend[rows]
    place = np.zeros(len(rows), dtype=np.int32)
    questions: list[tuple[int, int]] = []
    for depth in range(3):
        size = len(features) * BINS
        index = (cells + (place * size)[:, None]).ravel()
        sums = [
            np.bincount(index, np.repeat(weights, len(features)), minlength=size << depth)
            for weights in (steep, bent, np.ones(len(rows)))
        ]
        found = [
            _best(*(s.reshape(-1, len(features), BINS)[node] for s in sums))
            for node in range(1 << depth)
        ]
        asked = np.array([feature for feature, _ in found])
        cut = np.array([at for _, at in found])
        mine = cells[np.arange(len(rows)), asked[place]] - BINS * asked[place]
        place = 2 * place + (mine > cut[place])
        questions += [
            (int(features[f]), int(binned.cuts[features[f]][at]) if at < BINS else NEVER)
            for f, at in found
        ]
    leaves = []
    for leaf in range(8):
        here = place == leaf
        value = -RATE * steep[here].sum() / (bent[here].sum() + RIDGE) if here.any() else 0.0
        leaves.append(round(float(value), 3) + 0.0)
    return tuple(questions), tuple(leaves), ()


def _steepest(steepness: np.ndarray) -> np.ndarray:
    """The rows that hold nearly all of the slope; the others are strangers long told apart."""
    order = np.argsort(-steepness, kind="stable")
    held = np.cumsum(steepness[order])
    return order[: int(np.searchsorted(held, SLOPE_HELD * held[-1])) + 1]


def _best(steep: np.ndarray, bent: np.ndarray, many: np.ndarray) -> tuple[int, int]:
    """(feature, bin) of the best split; bin BINS where none is worth it."""
    left = [np.cumsum(s, 1)[:, :-1] for s in (steep, bent, many)]
    whole = [s[0].sum() for s in (steep, bent, many)]
    right = [w - part for w, part in zip(whole, left, strict=True)]
    gain = left[0] ** 2 / (left[1] + RIDGE) + right[0] ** 2 / (right[1] + RIDGE)
    gain[(left[2] < LEAST_ROWS) | (right[2] < LEAST_ROWS)] = -1
    best = np.unravel_index(int(gain.argmax()), gain.shape)
    if gain[best] <= whole[0] ** 2 / (whole[1] + RIDGE) + 1e-9:
        return 0, BINS
    return int(best[0]), int(best[1])


def leaf_of(tree: Tree, counts: np.ndarray) -> np.ndarray:
    """The leaf, 0 to 7, that each row of counts ends in."""
    asked = np.array([feature for feature, _ in tree[0]])
    cuts = np.array([threshold for _, threshold in tree[0]])
    node = np.zeros(len(counts), dtype=np.int64)
    for _ in range(3):
        node = 2 * node + 1 + (counts[np.arange(len(counts)), asked[node]] > cuts[node])
    return node - 7


def learn(items: Items) -> list[Tree]:
    """Grow the trees one after the other."""
    many, candidates, _ = items.counts.shape
    rng = np.random.default_rng(SEED)
    flat = items.counts.reshape(many * candidates, -1)
    binned, scores, trees = Binned(flat), np.zeros(many * candidates), []
    weights = np.where(items.first, 1.0, LATER_WEIGHT)[:, None]
    for _ in range(TREES):
        likely = scores.reshape(many, candidates)
        likely = np.exp(likely - likely.max(1, keepdims=True))
        likely /= likely.sum(1, keepdims=True)
        slope, bend = likely.copy(), likely * (1 - likely) + 1e-6
        slope[:, 0] -= 1
        tree = grow(binned, (slope * weights).ravel(), (bend * weights).ravel(), rng)
        leaves = leaf_of(tree, flat)
        scores += np.array(tree[1])[leaves]
        strangers = leaves.reshape(many, candidates)[:, 1:].ravel()
        shares = np.bincount(strangers, minlength=8) * 1000 / len(strangers)
        trees.append((*tree[:2], tuple(round(share) for share in shares.tolist())))
    return trees


def scores_of(trees: Sequence[Tree], counts: np.ndarray) -> np.ndarray:
    """Sums of leaves, shape (items, candidates)."""
    flat = counts.reshape(-1, counts.shape[2])
    total = np.zeros(len(flat))
    for tree in trees:
        total += np.array(tree[1])[leaf_of(tree, flat)]
    return total.reshape(counts.shape[:2])
