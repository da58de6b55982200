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

    __slots__ = ("base_share", "edges", "reach", "seen", "strange_bits")

    def __init__(self, reach: Context, spread: Spread) -> None:
        self.reach = reach
        self.base_share, self.seen = spread
        self.strange_bits = -log2(spread.base_share)
        """Of a symbol that was never met: it keeps this share of its usual chance."""
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
        self, sequences: Iterable[Sequence[int]], usual: Sequence[float], order: int
    ) -> None:
        self._usual = usual
        model = Ppm(len(usual), order)
        for sequence in sequences:
            model.learn(sequence)
        # Made at once, so that the first lines after a change need not wait for it.
        self._states = {reach: State(reach, model.spread(reach)) for reach in model.contexts()}
        self.start = self._states[()]

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
            if symbol in state.seen:
                bits = -log2(state.base_share + state.seen[symbol] / self._usual[symbol])
                reach = (*state.reach, symbol)
                while reach not in self._states:
                    reach = reach[1:]
                known = bits, self._states[reach]
            else:
                known = state.strange_bits, self.start
            state.edges[symbol] = known
        return known
