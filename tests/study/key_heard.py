"""Pieces as the learning of the key followers reads them: features of each event, side by side."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from copy import copy
from typing import NamedTuple

import numpy as np
from scipy.sparse import csr_array

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
    """Many pieces side by side, the longest first, event by event.

    `right`: per event how much each of the 24 keys counts as the right one.
    """

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
        self.moves = self._side_by_side([piece.moves for piece in pieces])
        self.right = self._side_by_side([_right(piece) for piece in pieces])

    def of(self, chances: Sequence[np.ndarray], weight: float) -> Heard:
        """The same pieces with chances of the right key, events x 24 for each, instead of one."""
        made = copy(self)
        made.right = np.float32(weight) * self._side_by_side(chances)
        return made

    def _side_by_side(self, rows: Sequence[np.ndarray]) -> np.ndarray:
        ranked = [rows[at] for at in self.order]
        return np.concatenate(
            [[row[event] for row in ranked[:active]] for event, active in self._each()]
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


def _right(piece: Told) -> np.ndarray:
    """Per event, how much each key counts as the right one."""
    rows = np.zeros((len(piece.keys), 24), np.float32)
    known = piece.keys >= 0
    rows[known, piece.keys[known]] = piece.weights[known]
    return rows
