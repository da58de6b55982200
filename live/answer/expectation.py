"""What a player's phrases lead one to expect, in bits against what is usual; made to be quick.

Each end of the past that can matter is a state; what a symbol costs there and which state comes
next are worked out the first time they are asked for.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import log2

from live.answer.ppm import Context, Ppm, Spread


class State:
    """A place in the model: what it costs to go on from here, as far as it was asked.

    Args:
        reach: the end of the past that this state stands for.
        spread: what follows it.
    """

    __slots__ = ("edges", "reach", "spread")

    def __init__(self, reach: Context, spread: Spread) -> None:
        self.reach = reach
        self.spread = spread
        self.edges: dict[int, tuple[float, State]] = {}
        """By symbol: bits against what is usual, and the state after it."""


class Expectation:
    """One viewpoint's model of the phrases it was given.

    Args:
        sequences: the phrases, symbols below the number of `usual`.
        usual: how likely each symbol is in anybody's phrases, above 0, together 1.
        order: longest context, 0 or more.
    Thread: one at a time (it remembers what it has worked out). Cost: about a fifth of a
        microsecond a symbol met before in its state, a few for one that was not.
    """

    def __init__(
        self, sequences: Sequence[Sequence[int]], usual: Sequence[float], order: int
    ) -> None:
        self._usual = usual
        self._model = Ppm(len(usual), order)
        for sequence in sequences:
            self._model.learn(sequence)
        self._states: dict[Context, State] = {}
        self.start = self._state(())
        for sequence in sequences:
            self.bits(sequence)  # works out now what answers are likely to ask for

    def bits(self, sequence: Iterable[int]) -> float:
        """Information content of a sequence less what it usually has: below 0 is familiar.

        Added up over its symbols; 0.0 for an empty one, or where nothing was learned.
        """
        total, state = 0.0, self.start
        for symbol in sequence:
            edge = state.edges.get(symbol) or self.edge(state, symbol)
            total += edge[0]
            state = edge[1]
        return total

    def after(self, sequence: Iterable[int]) -> State:
        """The state that a sequence leads to."""
        state = self.start
        for symbol in sequence:
            state = (state.edges.get(symbol) or self.edge(state, symbol))[1]
        return state

    def edge(self, state: State, symbol: int) -> tuple[float, State]:
        """Bits of a symbol in a state against what is usual, and the state after it."""
        known = state.edges.get(symbol)
        if known is None:
            left, seen = state.spread
            # What was never met keeps its usual share of what is left.
            bits = -log2(left + seen.get(symbol, 0.0) / self._usual[symbol])
            after = self._model.reach((*state.reach, symbol)) if symbol in seen else ()
            known = state.edges[symbol] = bits, self._state(after)
        return known

    def _state(self, reach: Context) -> State:
        state = self._states.get(reach)
        if state is None:
            state = self._states[reach] = State(reach, self._model.spread(reach))
        return state
