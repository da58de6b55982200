"""Makes chances honest: one power for all, learned from what was judged."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np


def calm_of(judged: Sequence[tuple[np.ndarray, int]]) -> float:
    """The power of the chances that makes them most honest: least surprise at the right keys."""
    logs = np.log(np.array([chances for chances, _ in judged]) + 1e-300)
    keys = np.array([key for _, key in judged])

    def miss(power):
        scaled = power * logs
        top = scaled.max(1, keepdims=True)
        total = np.log(np.exp(scaled - top).sum(1)) + top[:, 0]
        return (total - scaled[np.arange(len(keys)), keys]).sum()

    return float(min(np.round(np.arange(0.2, 1.5, 0.01), 2), key=miss))


def calmed(chances: np.ndarray, power: float) -> np.ndarray:
    """Chances raised to a power and scaled to add up to 1."""
    raised = chances**power
    return raised / raised.sum()
