"""Learns the weights of the root finder and writes live/theory/root_table.py.

Run: python -m tests.study.chord_root_fit

A conditional logit over the twelve roots, with the features of `chord_roots`, on the numerals of
`chorales`. The figure reported is cross-fitted: each chorale is judged with weights learned from
the eighteen others. The features and `RIDGE` were settled by that figure on the first ten chorales,
so the nine last are printed apart. They were not unseen: rough first trials were read on all
nineteen (they showed the two analyses in another key), and so was the whole figure, 86.9 %, before
those two were moved to their score's key for learning instead of being left out of it.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise
from pathlib import Path

import numpy as np
from scipy.optimize import minimize

from live.theory.chord_roots import SHAPES, evidence, rank_roots, shapes_above
from tests.study.chorales import Item, load_items

RIDGE = 0.3
CHOSEN_ON = 10
LAYERS = ("share of the time", "present", "at the start", "bass", "at the end")
TABLE = Path(__file__).resolve().parents[2] / "live/theory/root_table.py"

Weights = tuple[tuple[float, ...], ...]


def features(item: Item) -> np.ndarray:
    """12 roots by 100 features: five layers by interval, then the shapes twice."""
    found = evidence(item.notes, item.length_beats)
    rows = np.zeros((12, 60 + 2 * len(SHAPES)))
    for root in range(12):
        rows[root, :60] = np.concatenate([np.roll(layer, -root) for layer in found])
        whole, first = shapes_above(found, root)
        rows[root, [60 + index for index in whole]] = 1
        rows[root, [60 + len(SHAPES) + index for index in first]] = 1
    return rows


def learn(rows: np.ndarray, roots: np.ndarray) -> Weights:
    """Weights of least penalised log loss, rounded as the table has them."""
    place = np.arange(len(roots))

    def loss(weights):
        scores = rows @ weights
        scores -= scores.max(1, keepdims=True)
        likely = np.exp(scores)
        likely /= likely.sum(1, keepdims=True)
        miss = -np.log(likely[place, roots] + 1e-300).sum() + RIDGE * weights @ weights
        slope = np.einsum("nr,nrk->k", likely, rows) - rows[place, roots].sum(0)
        return miss, slope + 2 * RIDGE * weights

    start = np.zeros(rows.shape[2])
    found = minimize(loss, start, jac=True, method="L-BFGS-B", options={"maxiter": 200}).x
    rounded = [float(weight) for weight in np.round(found, 2)]
    cuts = [*range(0, 61, 12), 60 + len(SHAPES), 60 + 2 * len(SHAPES)]
    return tuple(tuple(rounded[a:b]) for a, b in pairwise(cuts))


def learn_all(items: list[Item]) -> Weights:
    """The weights that the product ships."""
    rows = np.array([features(item) for item in items])
    return learn(rows, np.array([item.root_in_score for item in items]))


def percent(right: Iterable[bool]) -> float:
    """Share that is right, in percent."""
    marks = list(right)
    return 100 * sum(marks) / len(marks)


def cross_fit(items: list[Item]) -> list[int]:
    """The best root of each item, by weights that never saw its chorale."""
    rows = np.array([features(item) for item in items])
    roots = np.array([item.root_in_score for item in items])
    names = np.array([item.chorale for item in items])
    found = [0] * len(items)
    for name in dict.fromkeys(item.chorale for item in items):
        held = names == name
        weights = learn(rows[~held], roots[~held])
        for index in np.flatnonzero(held):
            item = items[index]
            found[index] = rank_roots(item.notes, item.length_beats, weights)[0].pitch_class
    return found


def table_text(weights: Weights, count: int) -> str:
    """The module that holds the weights."""

    def row(values: tuple[float, ...]) -> str:
        lines = [values[at : at + 12] for at in range(0, len(values), 12)]
        return "".join("        " + " ".join(f"{v}," for v in line) + "\n" for line in lines)

    comments = [f"{name}, by semitones above the root" for name in LAYERS]
    comments += ["each shape whole in the span", "each shape whole at its start"]
    parts = "".join(
        f"    (  # {comment}\n{row(values)}    ),\n"
        for comment, values in zip(comments, weights, strict=True)
    )
    return f'''"""Weights of the root finder: log odds by interval above the root and by shape.

Source: learned by tests/study/chord_root_fit.py from {count:,} Roman numerals in 19 chorales (human
analyses that music21 carries), ridge {RIDGE}. Written by that script; never edited by hand.
"""

from __future__ import annotations

# fmt: off
WEIGHTS: tuple[tuple[float, ...], ...] = (
{parts})
# fmt: on
"""Five rows of 12 (C = the root), then two rows of one weight for each of `chord_roots.SHAPES`."""
'''


def main() -> None:
    items = load_items()
    found = cross_fit(items)
    first = set(list(dict.fromkeys(item.chorale for item in items))[:CHOSEN_ON])
    pairs = list(zip(found, items, strict=True))
    for name, part in (
        ("all", pairs),
        ("first ten, settled the features", [pair for pair in pairs if pair[1].chorale in first]),
        ("last nine, settled nothing", [pair for pair in pairs if pair[1].chorale not in first]),
    ):
        written = percent(root == item.root for root, item in part)
        moved = percent(root == item.root_in_score for root, item in part)
        print(
            f"{name} ({len(part)}): {written:.1f} % as analysed, {moved:.1f} % with two analyses "
            "moved to their score's key"
        )
    TABLE.write_text(table_text(learn_all(items), len(items)), encoding="utf-8")
    print(f"written: {TABLE.name}")


if __name__ == "__main__":
    main()
