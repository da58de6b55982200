"""Learns the weights of the key followers: a filter over 24 keys, by the key it gives the right.

What `keyfollow` does is written here once more for numpy, over many pieces at a time, with its
slope, so that the weights of the notes and the chances of moving are learned together. The loss is
the surprise at the right key after each event: only what has been heard by then counts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize

from live.theory.profiles import ALBRECHT_SHANAHAN_MAJOR, ALBRECHT_SHANAHAN_MINOR
from tests.study.key_corpus import Note

MOVES = 6
START_MOVES = (4.0, -1.0, -1.0, -1.0, -2.0, 0.0)
MOVE_RIDGE = 0.3
PROFILES = np.array([ALBRECHT_SHANAHAN_MAJOR, ALBRECHT_SHANAHAN_MINOR])
LOG_PROFILES = np.log(PROFILES / PROFILES.sum(1, keepdims=True))


@dataclass(frozen=True)
class Heard:
    """Pieces as arrays: `rows` pieces x events x 12 tonics x features, `keys` the right key at
    each event (-1: none, or past the end), `weights` how much the event counts."""

    rows: np.ndarray
    keys: np.ndarray
    weights: np.ndarray

    def of(self, pieces: Sequence[int]) -> Heard:
        """Some of the pieces."""
        return Heard(self.rows[pieces], self.keys[pieces], self.weights[pieces])


def joined(one: Heard, other: Heard) -> Heard:
    """All pieces of both."""
    pairs = ((one.rows, other.rows), (one.keys, other.keys), (one.weights, other.weights))
    return Heard(*(np.concatenate(pair) for pair in pairs))


def _move_matrices() -> np.ndarray:
    made = np.zeros((MOVES, 24, 24))
    for tonic in range(12):
        for mode in (0, 12):
            key = tonic + mode
            made[0, key, key] = 1
            made[1, key, (tonic + 7) % 12 + mode] = 1
            made[2, key, (tonic + 5) % 12 + mode] = 1
            made[4, key, tonic + 12 - mode] = 1
        made[3, tonic, (tonic + 9) % 12 + 12] = 1
        made[3, (tonic + 9) % 12 + 12, tonic] = 1
    made[5] = 1 / 24
    return made


MATRICES = _move_matrices()


def moves_of(weights: np.ndarray) -> np.ndarray:
    """The six chances of moving, the last for all 24 keys together."""
    likely = np.exp(weights[-MOVES:] - weights[-MOVES:].max())
    return likely / likely.sum()


def evidence(weights: np.ndarray, rows: np.ndarray) -> np.ndarray:
    """How each event weighs each key, as a factor: pieces x events x 24."""
    by_mode = weights[:-MOVES].reshape(2, -1)
    logs = np.concatenate([rows @ by_mode[0], rows @ by_mode[1]], 2)
    return np.exp(logs - logs.max(2, keepdims=True))


def follow(weights: np.ndarray, rows: np.ndarray) -> np.ndarray:
    """Chances of the 24 keys after each event: events x pieces x 24."""
    return _follow(weights, rows)[0]


def _follow(weights, rows):
    factors = evidence(weights, rows)
    matrix = np.tensordot(moves_of(weights), MATRICES, 1)
    chances = np.full((len(rows), 24), 1 / 24)
    after, before, totals = [], [], []
    for event in range(rows.shape[1]):
        moved = chances @ matrix
        weighed = moved * factors[:, event]
        total = weighed.sum(1, keepdims=True)
        chances = weighed / total
        after.append(chances)
        before.append(moved)
        totals.append(total)
    return np.array(after), np.array(before), np.array(totals), factors, matrix


def look_back(weights: np.ndarray, rows: np.ndarray, events: int) -> np.ndarray:
    """Chances of the key at each event, once so many further events are known."""
    after, _, _, factors, matrix = _follow(weights, rows)
    known = after.copy()
    for event in range(rows.shape[1]):
        later = np.ones((len(rows), 24))
        for at in range(min(rows.shape[1] - 1, event + events), event, -1):
            later = (later * factors[:, at]) @ matrix.T
        known[event] *= later
    return known / known.sum(2, keepdims=True)


def learn(heard: Heard, start: np.ndarray, ridge: np.ndarray, turns: int) -> np.ndarray:
    """Weights of least loss, held near the start by the ridge."""
    held = np.concatenate([np.tile(ridge, 2), np.full(MOVES, MOVE_RIDGE)])

    def loss(weights):
        miss, slope = _miss(weights, heard)
        off = weights - start
        return miss + (held * off * off).sum(), slope + 2 * held * off

    return minimize(loss, start, jac=True, method="L-BFGS-B", options={"maxiter": turns}).x


def _miss(weights, heard):
    """Loss and its slope, run back through the filter."""
    after, before, totals, factors, matrix = _follow(weights, heard.rows)
    pieces = np.arange(len(heard.rows))
    miss, pull = 0.0, np.zeros((len(pieces), 24))
    by_factor, by_matrix = np.zeros(factors.shape), np.zeros((24, 24))
    for event in range(heard.rows.shape[1] - 1, -1, -1):
        right = np.maximum(heard.keys[:, event], 0)
        counts = heard.weights[:, event] * (heard.keys[:, event] >= 0)
        chance = after[event][pieces, right] + 1e-30
        miss -= (counts * np.log(chance)).sum()
        pull[pieces, right] -= counts / chance
        inner = (pull - (pull * after[event]).sum(1, keepdims=True)) / totals[event]
        by_factor[:, event] = inner * before[event] * factors[:, event]
        by_moved = inner * factors[:, event]
        earlier = after[event - 1] if event else np.full((len(pieces), 24), 1 / 24)
        by_matrix += earlier.T @ by_moved
        pull = by_moved @ matrix.T
    rows = heard.rows.reshape(-1, heard.rows.shape[3])
    slopes = [
        by_factor[:, :, mode : mode + 12].reshape(-1).astype(np.float32) @ rows for mode in (0, 12)
    ]
    moves = moves_of(weights)
    by_moves = (MATRICES * by_matrix).sum((1, 2))
    slopes.append(moves * (by_moves - (moves * by_moves).sum()))
    return miss, np.concatenate(slopes).astype(float)


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


def onsets(notes: Sequence[Note]) -> list[tuple[float, list[int], list[int]]]:
    """Events of a piece: (onset in quarters, pitches struck, pitches sounding)."""
    ends: dict[int, float] = {}
    events = []
    for onset in sorted({note[0] for note in notes}):
        struck = [(pitch, length) for begin, length, pitch in notes if begin == onset]
        ends = {pitch: end for pitch, end in ends.items() if end > onset + 1e-6}
        ends |= {pitch: onset + length for pitch, length in struck}
        events.append((onset, [pitch for pitch, _ in struck], list(ends)))
    return events


def start_of(features: int, share: float, moves: Sequence[float] = START_MOVES) -> np.ndarray:
    """Where learning starts: the published profile for the first 12 features, nothing else."""
    rows = np.zeros((2, features))
    rows[:, :12] = share * LOG_PROFILES
    return np.concatenate([rows.ravel(), moves])
