"""A simple judge of our own for call and answer: a conditional logit over twenty counts.

It is trained on Ryan's and Aird's tunes, shares no code with the composer or its critic, and only
stands in for listeners: does it find the true answer among ten, and ours among nine others'?
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from itertools import pairwise
from random import Random

import numpy as np

Note = tuple[int, int, int]
"""Onset and length in ticks, MIDI pitch relative to a tonic at 0 or a multiple of 12."""

RIVALS = 9


def counts(call: Sequence[Note], answer: Sequence[Note], bar_ticks: int) -> list[float]:
    """How an answer stands to a call."""
    c, a = {o: p for o, _, p in call}, {o: p for o, _, p in answer}
    row: list[float] = []
    for bar in (0, 1):
        for other in (0, 1):
            x = {o - bar * bar_ticks for o in c if o // bar_ticks == bar}
            y = {o - other * bar_ticks for o in a if o // bar_ticks == other}
            row.append(len(x & y) / max(1, len(x | y)))
    row.append(sum(c.get(o) == p for o, p in a.items()) / len(a))
    row.append(_overlap(Counter(p % 12 for p in c.values()), Counter(p % 12 for p in a.values())))
    row.append(_overlap(Counter(c.values()), Counter(a.values())))
    moves = [[y - x for x, y in pairwise(line.values())] for line in (c, a)]
    row.append(_overlap(*(Counter(m) for m in moves)))
    row.append(_overlap(*(Counter(abs(m) for m in line) for line in moves)))
    row.append(_overlap(*(Counter(pairwise(m)) for m in moves)))
    gaps = [[y - x for x, y in pairwise(line)] for line in (c, a)]
    row.append(_overlap(*(Counter(g) for g in gaps)))
    row.append(_overlap(*(Counter(pairwise(g)) for g in gaps)))
    row.append(abs(len(a) - len(c)) / len(c))
    means = [float(np.mean(list(line.values()))) for line in (c, a)]
    row += [abs(means[1] - means[0]) / 12, abs(max(a.values()) - max(c.values())) / 12]
    row += [abs(min(a.values()) - min(c.values())) / 12]
    row += [abs(next(iter(a.values())) - list(c.values())[-1]) / 12]
    shared = sorted(c.keys() & a.keys())
    turns = [np.sign(c[y] - c[x]) == np.sign(a[y] - a[x]) for x, y in pairwise(shared)]
    row.append(float(np.mean(turns)) if turns else 0.0)
    steps = [c[y] - c[x] == a[y] - a[x] for x, y in pairwise(shared)]
    row.append(float(np.mean(steps)) if steps else 0.0)
    row.append(float(list(a.values())[-1] % 12 == 0))
    return row


def _overlap(one: Counter, other: Counter) -> float:
    most = max(1, min(one.total(), other.total()))
    return (one & other).total() / most


def rivals_of(
    number: int, kinds: Sequence[object], families: Sequence[int], rng: Random
) -> list[int]:
    """Nine others of the same kind (metre and mode) and another family; fewer if there are not."""
    others = [
        i
        for i, kind in enumerate(kinds)
        if kind == kinds[number] and families[i] != families[number]
    ]
    return rng.sample(others, min(RIVALS, len(others)))


def train(groups: Sequence[Sequence[list[float]]], ridge: float = 1.0):
    """A judge from groups of rows in which the true one comes first. Returns: row -> score."""
    x = np.array(groups)
    mean, scale = x.mean((0, 1)), x.std((0, 1)) + 1e-9
    x = (x - mean) / scale
    w = np.zeros(x.shape[2])
    for _ in range(30):
        z = x @ w
        p = np.exp(z - z.max(1, keepdims=True))
        p /= p.sum(1, keepdims=True)
        expected = (p[..., None] * x).sum(1)
        grad = (expected - x[:, 0]).sum(0) + ridge * w
        centred = x - expected[:, None]
        hess = np.einsum("gi,gij,gik->jk", p, centred, centred) + ridge * np.eye(len(w))
        w -= np.linalg.solve(hess, grad)
    return lambda row: float(((np.array(row) - mean) / scale) @ w)
