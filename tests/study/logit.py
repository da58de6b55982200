"""A conditional logit over named features: which of several things stood in a place?"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.optimize import minimize
from scipy.sparse import csr_matrix

Features = list[tuple[str, float]]
Group = tuple[list[Features], int]
"""The features of each thing that could have stood there, and which one did."""

LEAST = 12
"""A feature seen fewer times among the true ones and their rivals gets no weight."""


def fit(groups: Sequence[Group], ridge: float) -> dict[str, float]:
    """Weights by features, most likely under a ridge; rare features get none.

    Args:
        groups: for each place what could have stood there, and which one did.
        ridge: of the squares of the weights.
    """
    names = _usual_names(groups)
    place = {name: number for number, name in enumerate(names)}
    rows, columns, values, starts, true = [], [], [], [], []
    row = 0
    for features, right in groups:
        starts.append(row)
        true.append(row + right)
        for found in features:
            for name, value in found:
                if name in place:
                    rows.append(row)
                    columns.append(place[name])
                    values.append(value)
            row += 1
    design = csr_matrix((values, (rows, columns)), shape=(row, len(names)))
    first, hit = np.array(starts), np.array(true)
    sizes = np.diff(np.append(first, row))

    def loss(w: np.ndarray) -> tuple[float, np.ndarray]:
        z = design @ w
        top = np.maximum.reduceat(z, first)
        e = np.exp(z - np.repeat(top, sizes))
        total = np.add.reduceat(e, first)
        nll = float((np.log(total) + top - z[hit]).sum())
        p = e / np.repeat(total, sizes)
        p[hit] -= 1
        return nll + ridge / 2 * float(w @ w), design.T @ p + ridge * w

    found = minimize(
        loss, np.zeros(len(names)), jac=True, method="L-BFGS-B", options={"maxiter": 300}
    )
    bits = (found.fun - ridge / 2 * float(found.x @ found.x)) / len(hit) / np.log(2)
    print(f"  {len(names)} weights, {len(groups)} places, {bits:.3f} bits a place")
    return {
        name: round(float(w), 3) for name, w in zip(names, found.x, strict=True) if abs(w) >= 0.005
    }


def _usual_names(groups: Sequence[Group]) -> list[str]:
    """The features that are found in places enough."""
    counts: dict[str, int] = {}
    for features, _ in groups:
        for name in {name for row in features for name, _ in row}:
            counts[name] = counts.get(name, 0) + 1
    return sorted(name for name, count in counts.items() if count >= LEAST)
