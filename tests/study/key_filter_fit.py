"""Learns the weights of the key followers: a filter over 24 keys, by the key it gives the right.

What `keyfilter` does is written here once more for numpy, over many pieces at a time, with its
slope, so that the weights of the notes and the chances of moving are learned together. The loss is
the surprise at the right key after each event: only what has been heard by then counts. Where home
is follows from the chances; its own slope is left out, and it is worked out anew three times.

A line has no home to come back to; there the right key is home, and the key that the filter hears
is one that music at home there goes to.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from scipy.optimize import minimize

from live.theory.keyfilter import HOME_GAIN
from live.theory.profiles import ALBRECHT_SHANAHAN_MAJOR, ALBRECHT_SHANAHAN_MINOR
from tests.study.key_heard import Heard

KINDS = 3
"""What an event may do to the key: stay, any key, where music at home is."""
WAYS = 6
START_MOVES = ((3.0, -3.0, 0.0), (3.0, -3.0, 0.0), (2.0, -1.0, 1.0))
LINE_MOVES = ((6.0, 0.0, -30.0),)
"""For a filter that never goes back to where home is."""
START_WAYS = (2.0, 0.0, 0.0, 0.0, -1.0, -1.0)
LINE_WAYS = (3.0, 0.0, 0.0, 0.0, 0.0, 0.0)
MOVE_RIDGE = 0.3
ROUNDS = 3
PROFILES = np.array([ALBRECHT_SHANAHAN_MAJOR, ALBRECHT_SHANAHAN_MINOR])
LOG_PROFILES = np.log(PROFILES / PROFILES.sum(1, keepdims=True))


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
    return np.exp(logs - logs.max(1, keepdims=True))


def _run(weights: Weights, heard: Heard, home: np.ndarray | None = None) -> _Pass:
    """All events. Home as it was in an earlier pass if given, which is faster."""
    factors = _factors(weights.by_mode, heard)
    after, before, homes = (np.empty_like(factors) for _ in range(3))
    totals = np.empty_like(factors[:, :1])
    stay, other, back = (kind[:, None] for kind in _kinds(weights, heard).T)
    from_home = _from_home(weights)
    rest = other / 24 if home is None else other / 24 + back * (home @ from_home)
    chances = np.full((heard.active[0], 24), 1 / 24, np.float32)
    at_home = chances
    for event in range(heard.events):
        span, active = heard.span(event), heard.active[event]
        moved = stay[span] * chances[:active] + rest[span]
        if home is None:
            at_home = homes[span] = at_home[:active]
            moved += back[span] * (at_home @ from_home)
        before[span] = moved
        weighed = moved * factors[span]
        total = totals[span] = weighed.sum(1, keepdims=True)
        chances = after[span] = weighed / total
        if home is None:
            at_home = at_home + max(1 / (event + 1), HOME_GAIN) * (chances - at_home)
    return _Pass(after, before, totals, factors, homes if home is None else home)


def _kinds(weights: Weights, heard: Heard) -> np.ndarray:
    kinds: np.ndarray = weights.moves.astype(np.float32)[heard.moves]
    return kinds


def _from_home(weights: Weights) -> np.ndarray:
    return np.tensordot(weights.ways, MATRICES, 1).astype(np.float32)


def follow(weights: Weights, heard: Heard) -> list[np.ndarray]:
    """Chances of the 24 keys after each event, a piece each."""
    return heard.by_piece(_run(weights, heard).after)


def follow_home(weights: Weights, heard: Heard) -> list[np.ndarray]:
    """Chances of each home key after each event."""
    return heard.by_piece(_run(weights, heard).after @ _from_home(weights).T)


def look_back(weights: Weights, heard: Heard, events: int) -> list[np.ndarray]:
    """Chances of the key at each event, once so many further events are known."""
    run = _run(weights, heard)
    sent = run.home @ _from_home(weights)
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
    all_heard: Sequence[Heard],
    start: np.ndarray,
    ridge: np.ndarray,
    turns: int,
    free: np.ndarray | None = None,
    *,
    to_home: bool = False,
) -> np.ndarray:
    """Weights of least loss, flat, held near the start by the ridge (one value a feature); all of
    them, or those that are free. The right keys are those heard, or home ones."""
    width = len(ridge)
    moves = np.full(len(start) - 2 * width, MOVE_RIDGE)
    held = np.concatenate([np.tile(ridge, 2), moves])
    learned = np.ones(len(start), bool) if free is None else free
    found = start
    for _ in range(ROUNDS):
        homes = [_run(unpacked(found, width), heard).home for heard in all_heard]

        def loss(flat: np.ndarray, homes: Sequence[np.ndarray] = homes) -> tuple[float, np.ndarray]:
            weights, off = unpacked(flat, width), flat - start
            each = [_miss(weights, *pair, to_home) for pair in zip(all_heard, homes, strict=True)]
            miss = sum(miss for miss, _ in each) + (held * off * off).sum()
            return miss, learned * (sum(slope for _, slope in each) + 2 * held * off)

        options = {"maxiter": turns}
        found = minimize(loss, found, jac=True, method="L-BFGS-B", options=options).x
    return found


def _miss(
    weights: Weights, heard: Heard, home: np.ndarray, to_home: bool
) -> tuple[float, np.ndarray]:
    """Loss and its slope, run back through the filter."""
    run = _run(weights, heard, home)
    kinds, from_home = _kinds(weights, heard), _from_home(weights)
    sent, said = home @ from_home, run.after @ from_home.T if to_home else run.after
    said = said + np.float32(1e-30)
    pulls = -heard.right / said
    by_way = np.zeros(WAYS)
    if to_home:
        by_way = np.einsum("ij,kij->k", pulls.T @ run.after, MATRICES)
        pulls = pulls @ from_home
    earlier, by_before = np.full_like(run.after, 1 / 24), np.empty_like(run.after)
    stays, scales = kinds[:, :1], run.factors / run.totals
    pull = pulls[:0]
    for event in range(heard.events - 1, -1, -1):
        span, active = heard.span(event), heard.active[event]
        here = pulls[span]
        here[: len(pull)] += pull
        inner = here - (here * run.after[span]).sum(1, keepdims=True)
        made = by_before[span] = inner * scales[span]
        pull = stays[span] * made
        if event:
            earlier[span] = run.after[heard.span(event - 1)][:active]
    flat = (by_before * run.before).reshape(-1, 2, 12).transpose(0, 2, 1).reshape(-1, 2)
    slopes = [(heard.turned @ flat).T.ravel().astype(float)]
    by_kind = np.stack([(into * by_before).sum(1) for into in (earlier, 1 / 24, sent)], 1)
    for row, chances in enumerate(weights.moves):
        slopes.append(_logit_slope(chances, by_kind[heard.moves == row].sum(0)))
    by_way = by_way + np.einsum("ij,kij->k", home.T @ (kinds[:, 2:] * by_before), MATRICES)
    slopes.append(_logit_slope(weights.ways, by_way))
    return -float((heard.right * np.log(said)).sum()), np.concatenate(slopes)


def _logit_slope(chances: np.ndarray, slope: np.ndarray) -> np.ndarray:
    return chances * (slope - (chances * slope).sum())


def start_of(
    width: int, share: float, moves: Sequence[Sequence[float]], ways: Sequence[float]
) -> np.ndarray:
    """Where learning starts: the published profile for the first 12 features, nothing else."""
    by_mode = np.zeros((2, width))
    by_mode[:, :12] = share * LOG_PROFILES
    return np.concatenate([by_mode.ravel(), np.ravel(moves), ways])
