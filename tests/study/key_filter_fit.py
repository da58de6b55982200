"""Learns the weights of the key followers: a filter over 24 keys, by the key it gives the right.

What `keyfilter` does is written here once more for numpy, over many pieces at a time, with its
slope, so that the weights of the notes and the chances of moving are learned together. The loss is
the surprise at the right key after each event: only what has been heard by then counts. Where home
is follows from the chances; its own slope is left out, and it is worked out anew three times.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

import numpy as np
from scipy.optimize import minimize
from scipy.sparse import csr_array

from live.theory.keyfilter import HOME_GAIN
from live.theory.profiles import ALBRECHT_SHANAHAN_MAJOR, ALBRECHT_SHANAHAN_MINOR

KINDS = 3
"""What an event may do to the key: stay, any key, where music at home is."""
WAYS = 6
START_MOVES = ((3.0, -3.0, 0.0), (2.0, -1.0, 1.0))
HOMELESS_MOVES = ((6.0, 0.0, -30.0),)
"""For a filter that never goes by where home is."""
START_WAYS = (2.0, 0.0, 0.0, 0.0, -1.0, -1.0)
MOVE_RIDGE = 0.3
ROUNDS = 3
PROFILES = np.array([ALBRECHT_SHANAHAN_MAJOR, ALBRECHT_SHANAHAN_MINOR])
LOG_PROFILES = np.log(PROFILES / PROFILES.sum(1, keepdims=True))

Feature = tuple[int, int, int]
"""First column of its block, pitch class now, pitch class before (-1: none)."""


class Told(NamedTuple):
    """A piece as features: per feature its event, tonic and column; per event the right key (-1:
    none), how much it counts, and which row of moves comes before it."""

    event: np.ndarray
    tonic: np.ndarray
    column: np.ndarray
    keys: np.ndarray
    weights: np.ndarray
    moves: np.ndarray

    def of(self, keys: np.ndarray, weight: float) -> Told:
        """The same piece with other keys."""
        return self._replace(keys=keys, weights=np.full(len(keys), weight))


def told(
    events: Sequence[Sequence[Feature]],
    keys: Sequence[int] | np.ndarray,
    weights: Sequence[float] | np.ndarray,
    moves: Sequence[int] | None = None,
) -> Told:
    """Features turned to each of the twelve tonics."""
    flat = [(at, *feature) for at, features in enumerate(events) for feature in features]
    at, column, now, before = np.array(flat).T
    tonic = np.arange(12)[:, None]
    columns = column + (now - tonic) % 12 + np.where(before < 0, 0, 12 * ((before - tonic) % 12))
    return Told(
        np.tile(at, 12),
        np.repeat(np.arange(12), len(at)),
        columns.ravel(),
        np.asarray(keys),
        np.asarray(weights, float),
        np.zeros(len(events), int) if moves is None else np.asarray(moves),
    )


class Heard:
    """Many pieces side by side, the longest first, event by event."""

    def __init__(self, pieces: Sequence[Told], width: int) -> None:
        self.order = sorted(range(len(pieces)), key=lambda at: -len(pieces[at].keys))
        ranked = [pieces[at] for at in self.order]
        lengths = np.array([len(piece.keys) for piece in ranked])
        self.events = int(lengths.max())
        self.active = np.array([(lengths > event).sum() for event in range(self.events)])
        self.begin = np.concatenate([[0], np.cumsum(self.active)])
        rows = [
            (self.begin[piece.event] + place) * 12 + piece.tonic
            for place, piece in enumerate(ranked)
        ]
        columns = np.concatenate([piece.column for piece in ranked])
        ones = np.ones(len(columns), np.float32)
        shape = (12 * self.begin[-1], width)
        self.rows = csr_array((ones, (np.concatenate(rows), columns)), shape=shape)
        self.turned = self.rows.T.tocsr()
        self.keys, self.weights, self.moves = (
            np.concatenate(
                [
                    [getattr(p, field)[event] for p in ranked[:active]]
                    for event, active in self._each()
                ]
            )
            for field in ("keys", "weights", "moves")
        )

    def _each(self) -> Iterable[tuple[int, int]]:
        return enumerate(self.active.tolist())

    def span(self, event: int) -> slice:
        """The rows of an event: one for each piece that has so many."""
        return slice(self.begin[event], self.begin[event + 1])

    def by_piece(self, rows: np.ndarray) -> list[np.ndarray]:
        """Rows of all events, given back as events x 24 for each piece in its first order."""
        found: list[list[np.ndarray]] = [[] for _ in self.order]
        for event, active in self._each():
            for place, row in enumerate(rows[self.span(event)][:active]):
                found[self.order[place]].append(row)
        return [np.array(piece) for piece in found]


def _way_matrices() -> np.ndarray:
    made = np.zeros((WAYS, 24, 24))
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


MATRICES = _way_matrices()


def likely(logits: np.ndarray) -> np.ndarray:
    """Chances that add up to 1 along the last axis."""
    raised = np.exp(logits - logits.max(-1, keepdims=True))
    return raised / raised.sum(-1, keepdims=True)


class Weights(NamedTuple):
    """What is learned: features x 2, rows of moves x 3, six ways from home."""

    by_mode: np.ndarray
    moves: np.ndarray
    ways: np.ndarray


def unpacked(flat: np.ndarray, width: int) -> Weights:
    """The weights of a filter with so many features."""
    cut = 2 * width
    moves = likely(flat[cut:-WAYS].reshape(-1, KINDS))
    return Weights(flat[:cut].reshape(2, width).T, moves, likely(flat[-WAYS:]))


class _Pass(NamedTuple):
    """After and before each event, its total, its factors, where home was."""

    after: np.ndarray
    before: np.ndarray
    totals: np.ndarray
    factors: np.ndarray
    home: np.ndarray


def _factors(by_mode: np.ndarray, heard: Heard) -> np.ndarray:
    logs = heard.rows @ by_mode.astype(np.float32)
    logs = logs.reshape(-1, 12, 2).transpose(0, 2, 1).reshape(-1, 24)
    return np.exp(logs - logs.max(1, keepdims=True)).astype(float)


def _run(weights: Weights, heard: Heard, home: np.ndarray | None = None) -> _Pass:
    factors = _factors(weights.by_mode, heard)
    after, before, homes = (np.zeros_like(factors) for _ in range(3))
    totals = np.zeros((len(factors), 1))
    from_home = np.tensordot(weights.ways, MATRICES, 1)
    chances = np.full((heard.active[0], 24), 1 / 24)
    at_home = chances.copy()
    for event in range(heard.events):
        span, active = heard.span(event), heard.active[event]
        at_home, chances = at_home[:active], chances[:active]
        homes[span] = at_home if home is None else home[span]
        stay, other, back = weights.moves[heard.moves[span]].T[:, :, None]
        before[span] = stay * chances + other / 24 + back * (homes[span] @ from_home)
        weighed = before[span] * factors[span]
        totals[span] = weighed.sum(1, keepdims=True)
        chances = weighed / totals[span]
        after[span] = chances
        at_home = at_home + max(1 / (event + 1), HOME_GAIN) * (chances - at_home)
    return _Pass(after, before, totals, factors, homes)


def follow(weights: Weights, heard: Heard) -> list[np.ndarray]:
    """Chances of the 24 keys after each event, a piece each."""
    return heard.by_piece(_run(weights, heard).after)


def look_back(weights: Weights, heard: Heard, events: int) -> list[np.ndarray]:
    """Chances of the key at each event, once so many further events are known."""
    run = _run(weights, heard)
    sent = run.home @ np.tensordot(weights.ways, MATRICES, 1)
    known = run.after.copy()
    for event in range(heard.events):
        later = np.ones((heard.active[event], 24))
        for at in range(min(heard.events - 1, event + events), event, -1):
            span, active = heard.span(at), heard.active[at]
            made = later[:active] * run.factors[span]
            stay, other, back = weights.moves[heard.moves[span]].T[:, :, None]
            rest = other * made.mean(1, keepdims=True)
            rest = rest + back * (sent[span] * made).sum(1, keepdims=True)
            later[:active] = stay * made + rest
            later /= later.max(1, keepdims=True)
        known[heard.span(event)] *= later
    return heard.by_piece(known / known.sum(1, keepdims=True))


def learn(
    heard: Heard,
    start: np.ndarray,
    ridge: np.ndarray,
    turns: int,
    free: np.ndarray | None = None,
) -> np.ndarray:
    """Weights of least loss, flat, held near the start by the ridge (one value a feature); all of
    them, or those that are free."""
    width = len(ridge)
    moves = np.full(len(start) - 2 * width, MOVE_RIDGE)
    held = np.concatenate([np.tile(ridge, 2), moves])
    learned = np.ones(len(start), bool) if free is None else free
    found = start
    for _ in range(ROUNDS):
        home = _run(unpacked(found, width), heard).home

        def loss(flat: np.ndarray, home: np.ndarray = home) -> tuple[float, np.ndarray]:
            miss, slope = _miss(unpacked(flat, width), heard, home)
            off = flat - start
            return miss + (held * off * off).sum(), learned * (slope + 2 * held * off)

        options = {"maxiter": turns}
        found = minimize(loss, found, jac=True, method="L-BFGS-B", options=options).x
    return found


def _miss(weights: Weights, heard: Heard, home: np.ndarray) -> tuple[float, np.ndarray]:
    """Loss and its slope, run back through the filter."""
    run = _run(weights, heard, home)
    sent = home @ np.tensordot(weights.ways, MATRICES, 1)
    kinds = weights.moves[heard.moves]
    by_factor = np.zeros_like(run.factors)
    by_kind, by_sent = np.zeros((len(home), KINDS)), np.zeros_like(home)
    miss, pull = 0.0, np.zeros((0, 24))
    for event in range(heard.events - 1, -1, -1):
        span, active = heard.span(event), heard.active[event]
        pull = np.concatenate([pull, np.zeros((active - len(pull), 24))])
        pieces, keys = np.arange(active), heard.keys[span]
        counts = heard.weights[span] * (keys >= 0)
        chance = run.after[span][pieces, np.maximum(keys, 0)] + 1e-30
        miss -= (counts * np.log(chance)).sum()
        pull[pieces, np.maximum(keys, 0)] -= counts / chance
        inner = (pull - (pull * run.after[span]).sum(1, keepdims=True)) / run.totals[span]
        by_before = inner * run.factors[span]
        by_factor[span] = by_before * run.before[span]
        earlier = run.after[heard.span(event - 1)][:active] if event else np.full((1, 24), 1 / 24)
        by_kind[span, 0] = (earlier * by_before).sum(1)
        by_kind[span, 1] = by_before.mean(1)
        by_kind[span, 2] = (sent[span] * by_before).sum(1)
        by_sent[span] = kinds[span, 2:] * by_before
        pull = kinds[span, :1] * by_before
    flat = by_factor.reshape(-1, 2, 12).transpose(0, 2, 1).reshape(-1, 2).astype(np.float32)
    slopes = [(heard.turned @ flat).T.ravel().astype(float)]
    for row, chances in enumerate(weights.moves):
        slopes.append(_logit_slope(chances, by_kind[heard.moves == row].sum(0)))
    by_ways = np.einsum("ij,kij->k", home.T @ by_sent, MATRICES)
    return miss, np.concatenate([*slopes, _logit_slope(weights.ways, by_ways)])


def _logit_slope(chances: np.ndarray, slope: np.ndarray) -> np.ndarray:
    return chances * (slope - (chances * slope).sum())


def start_of(width: int, share: float, moves: Sequence[Sequence[float]]) -> np.ndarray:
    """Where learning starts: the published profile for the first 12 features, nothing else."""
    by_mode = np.zeros((2, width))
    by_mode[:, :12] = share * LOG_PROFILES
    return np.concatenate([by_mode.ravel(), np.ravel(moves), START_WAYS])
