"""How much of a line is a copy: the longest run that stands in one of a set of sequences."""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from typing import Final

_ROOT: Final = 0


class Copies:
    """Finds runs of a set of sequences in others: a suffix automaton (Blumer et al. 1985).

    Args:
        sequences: what may be copied.
    Thread: any once made. Cost: linear in the symbols, to make and to look up.
    """

    def __init__(self, sequences: Iterable[Iterable[Hashable]]) -> None:
        self._next: list[dict[Hashable, int]] = [{}]
        self._link = [-1]
        self._length = [0]
        for sequence in sequences:
            last = _ROOT
            for symbol in sequence:
                last = self._add(last, symbol)

    def runs(self, sequence: Iterable[Hashable]) -> list[int]:
        """For each symbol, how long the longest copied run is that ends with it (0 = none)."""
        found, state, length = [], _ROOT, 0
        for symbol in sequence:
            while state != _ROOT and symbol not in self._next[state]:
                state = self._link[state]
                length = self._length[state]
            if symbol in self._next[state]:
                state = self._next[state][symbol]
                length += 1
            found.append(length)
        return found

    def _add(self, last: int, symbol: Hashable) -> int:
        """Append a symbol to the sequence that ends in state `last`; returns the new end."""
        met = self._next[last].get(symbol)
        if met is not None:
            return met if self._length[met] == self._length[last] + 1 else self._split(last, symbol)
        new = self._state(self._length[last] + 1, {}, _ROOT)
        place = last
        while place >= 0 and symbol not in self._next[place]:
            self._next[place][symbol] = new
            place = self._link[place]
        if place >= 0:
            met = self._next[place][symbol]
            exact = self._length[met] == self._length[place] + 1
            self._link[new] = met if exact else self._split(place, symbol)
        return new

    def _split(self, place: int, symbol: Hashable) -> int:
        """Part off the shorter runs of the state that `symbol` leads to; returns their state."""
        met = self._next[place][symbol]
        clone = self._state(self._length[place] + 1, dict(self._next[met]), self._link[met])
        self._link[met] = clone
        while place >= 0 and self._next[place].get(symbol) == met:
            self._next[place][symbol] = clone
            place = self._link[place]
        return clone

    def _state(self, length: int, following: dict[Hashable, int], link: int) -> int:
        self._length.append(length)
        self._next.append(following)
        self._link.append(link)
        return len(self._length) - 1
