"""A two-sample test for phrases: can a fresh classifier tell ours from real ones?

After Lopez-Paz & Oquab, Revisiting classifier two-sample tests, ICLR 2017: a classifier is trained
on part of both samples and judged on the rest; AUC 0.5 means that it cannot tell them apart. The
features are plain counts, written without help from live.answer.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

Note = tuple[int, int, int]
"""Onset and length in ticks, MIDI pitch."""

FOLDS = 5
ROUNDS = 80
RATE = 0.3


def features(
    call: Sequence[Note], answer: Sequence[Note], tonic_pc: int, bar_ticks: int, beat_ticks: int
) -> list[float]:
    """Plain counts on an answer, and some on how it stands to its call.

    Interval, step, degree, onset and length histograms, density, repeated notes, turns, range,
    last note, syncopation, shared bigrams, shared places.
    """
    onsets = [o for o, *_ in answer]
    lengths = [n for _, n, _ in answer]
    pitches = [p for *_, p in answer]
    moves = [b - a for a, b in pairwise(pitches)]
    gaps = [b - a for a, b in pairwise(onsets)]
    end, count = 2 * bar_ticks, len(answer)
    row: list[float] = [count / 8, len(set(pitches)) / count, (max(pitches) - min(pitches)) / 12]
    row += _shares([max(-7, min(7, move)) for move in moves], range(-7, 8))
    row += _shares([gap // 120 for gap in gaps], (1, 2, 3, 4, 6, 8))
    row += _shares([(p - tonic_pc) % 12 for p in pitches], range(12))
    row += _shares([o % beat_ticks // 120 for o in onsets], (0, 2, 4, 6, 8))
    row += [float((pitches[-1] - tonic_pc) % 12 == d) for d in (0, 2, 4, 7)]
    row += [float((pitches[0] - tonic_pc) % 12 == d) for d in (0, 7)]
    row += [(end - onsets[-1]) / 960, lengths[-1] / 960, float(np.mean(lengths)) / 960]
    row += [float(np.mean([n / g for n, g in zip(lengths, gaps, strict=False)])) if gaps else 1.0]
    row += [float(abs(moves[-1]) if moves else 0), float(np.mean(np.abs(moves))) if moves else 0.0]
    turns = [a * b < 0 for a, b in pairwise(moves)]
    row += [float(np.mean(turns)) if turns else 0.0]
    leaps = [a * b < 0 for a, b in pairwise(moves) if abs(a) > 4]
    row += [float(np.mean(leaps)) if leaps else 0.5, float(len(leaps))]
    late = [
        o
        for o in onsets
        if o % beat_ticks and not any(0 < p - o <= beat_ticks - o % beat_ticks for p in onsets)
    ]
    row += [len(late) / count]
    bars = [{o % bar_ticks for o in onsets if o // bar_ticks == b} for b in (0, 1)]
    row += [len(bars[0] & bars[1]) / max(1, len(bars[0] | bars[1]))]
    called = {o: p for o, _, p in call}
    row += [sum(called.get(o) == p for o, _, p in answer) / count]
    row += [len(called.keys() & set(onsets)) / len(called.keys() | set(onsets))]
    row += [(np.mean(pitches) - np.mean(list(called.values()))) / 12, (count - len(call)) / 8]
    pairs = set(pairwise([p for *_, p in call]))
    row += [sum(pair in pairs for pair in pairwise(pitches)) / max(1, len(moves))]
    row += [abs(pitches[0] - call[-1][2]) / 12]
    return [float(value) for value in row]


def _shares(values: Sequence[int], kinds: Sequence[int]) -> list[float]:
    return [values.count(kind) / max(1, len(values)) for kind in kinds]


def auc(scores: np.ndarray, truth: np.ndarray) -> float:
    """Area under the ROC curve: the chance that one of ours scores above a real one."""
    order = scores.argsort(kind="stable")
    ranks = np.empty(len(scores))
    ranks[order] = np.arange(1, len(scores) + 1)
    for value in np.unique(scores):  # ties share their rank
        same = scores == value
        ranks[same] = ranks[same].mean()
    ours = int(truth.sum())
    return float((ranks[truth].sum() - ours * (ours + 1) / 2) / (ours * (len(truth) - ours)))


def can_tell(
    real: Sequence[list[float]], ours: Sequence[list[float]], families: Sequence[int]
) -> dict[str, float]:
    """AUC of a logistic and of a boosted classifier, each cross-validated by family.

    Args:
        real, ours: feature rows, one of each a call.
        families: of each call; both rows of a family are judged by a classifier that saw neither.
    """
    x = np.array([*real, *ours])
    truth = np.array([False] * len(real) + [True] * len(ours))
    rng = np.random.default_rng(1)
    fold_of = dict(
        zip(sorted(set(families)), rng.permutation(len(set(families))) % FOLDS, strict=True)
    )
    fold = np.array([fold_of[f] for f in families] * 2)
    x = (x - x.mean(0)) / (x.std(0) + 1e-9)
    found = {}
    for name, learn in (("logistic", logistic), ("boosted", boosted)):
        scores = np.empty(len(x))
        for number in range(FOLDS):
            inside = fold != number
            scores[~inside] = learn(x[inside], truth[inside])(x[~inside])
        found[name] = auc(scores, truth)
    return found


def logistic(x: np.ndarray, truth: np.ndarray, ridge: float = 3.0):
    """Logistic regression by Newton's method."""
    x = np.column_stack([x, np.ones(len(x))])
    w = np.zeros(x.shape[1])
    for _ in range(20):
        p = 1 / (1 + np.exp(-np.clip(x @ w, -30, 30)))
        grad = x.T @ (p - truth) + ridge * w
        hess = (x * (p * (1 - p))[:, None]).T @ x + ridge * np.eye(len(w))
        w -= np.linalg.solve(hess, grad)
    return lambda rows: np.column_stack([rows, np.ones(len(rows))]) @ w


def boosted(x: np.ndarray, truth: np.ndarray):
    """Gradient boosting of stumps on the logistic loss."""
    y = np.where(truth, 1.0, -1.0)
    cuts = [np.unique(np.quantile(x[:, f], np.linspace(0.05, 0.95, 15))) for f in range(x.shape[1])]
    below = np.column_stack([x[:, f] <= c for f, cs in enumerate(cuts) for c in cs]).astype(float)
    names = [(f, c) for f, cs in enumerate(cuts) for c in cs]
    sizes = below.sum(0)
    score, stumps = np.zeros(len(x)), []
    for _ in range(ROUNDS):
        pull = y / (1 + np.exp(y * score))
        left = pull @ below
        right = pull.sum() - left
        gain = left**2 / np.maximum(sizes, 1) + right**2 / np.maximum(len(x) - sizes, 1)
        best = int(gain.argmax())
        curve = np.abs(pull) * (1 - np.abs(pull))
        in_left = below[:, best] > 0
        a = left[best] / (curve[in_left].sum() + 1)
        b = right[best] / (curve[~in_left].sum() + 1)
        score += RATE * np.where(in_left, a, b)
        stumps.append((*names[best], RATE * a, RATE * b))

    def judge(rows: np.ndarray) -> np.ndarray:
        return sum(np.where(rows[:, f] <= c, a, b) for f, c, a, b in stumps)

    return judge
