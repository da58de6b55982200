"""Prediction by partial matching: what follows a context, from what followed it before.

Variant PPM-C with interpolated smoothing (Pearce, The Construction and Evaluation of Statistical
Models of Melodic Structure, 2005, equation 6.8), exclusion, and the order of the shortest
deterministic context. Symbols are whole numbers, so that any alphabet can be laid over them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

Context = tuple[int, ...]


class Spread(NamedTuple):
    """A distribution in few numbers: P(s) = base_share * base(s) + seen.get(s, 0).

    Fields:
        base_share: what is left to the base distribution, above 0.
        seen: what was learned, by symbol; holds every symbol that was ever learned.
    """

    base_share: float
    seen: Mapping[int, float]


class Ppm:
    """A variable-order model of sequences of the symbols 0 to `size` - 1.

    Args:
        size: symbols in the alphabet, 1 or more.
        order: longest context, 0 or more; None = no limit.
        update_exclusion: a symbol met again in a context does not count in shorter ones.
    Thread: one owner while it learns, any afterwards. Cost: learning a symbol is linear in the
        order; a spread is linear in the order times the different symbols learned.
    """

    def __init__(
        self, size: int, order: int | None = None, *, update_exclusion: bool = False
    ) -> None:
        self.size = size
        self.order = order
        self._met: dict[Context, dict[int, int]] = {}
        self._counts: dict[Context, dict[int, int]] = {} if update_exclusion else self._met
        """What is counted on: with update exclusion less than was met."""

    def learn(self, sequence: Iterable[int]) -> None:
        """Learn a whole sequence; none of it is the context of another one."""
        past: list[int] = []
        for symbol in sequence:
            self.follow(past, symbol)
            past.append(symbol)

    def follow(self, past: Sequence[int], symbol: int) -> None:
        """Learn that `symbol` followed `past`."""
        counted = False
        for length in range(self._longest(past), -1, -1):
            context = tuple(past[len(past) - length :])
            met = self._met.setdefault(context, {})
            known = symbol in met
            met[symbol] = met.get(symbol, 0) + 1
            if self._counts is not self._met and not counted:
                counts = self._counts.setdefault(context, {})
                counts[symbol] = counts.get(symbol, 0) + 1
            counted = counted or known

    def reach(self, past: Sequence[int]) -> Context:
        """The longest end of `past` that was met before a symbol; no more of it can matter."""
        found: Context = ()
        for length in range(self._longest(past) + 1):
            context = tuple(past[len(past) - length :])
            if context not in self._met:
                break
            found = context
        return found

    def contexts(self) -> tuple[Context, ...]:
        """Every reach that a past can have; () is always among them."""
        return ((), *(context for context in self._met if context))

    def context(self, past: Sequence[int]) -> Context:
        """The context that decides what follows `past`.

        The shortest one that was always followed by one and the same symbol, otherwise the longest
        that was met; () before anything is learned.
        """
        return self._decisive(self.reach(past))

    def spread(self, reach: Context) -> Spread:
        """The distribution of what follows a past that has this reach."""
        context = self._decisive(reach)
        # Counted in full where a longer context was passed over, also with update exclusion
        # (so do IDyOM and R's ppm).
        source = self._met if len(context) < len(reach) else self._counts
        shares: dict[int, float] = {}
        left = 1.0
        known: Mapping[int, int] = {}
        for start in range(len(context) + 1):
            counts = source.get(context[start:], {})
            source = self._counts
            if not counts:
                break
            # Exclusion: what a longer context knows adds nothing to this one's weight.
            weight = sum([count for symbol, count in counts.items() if symbol not in known])
            if weight:
                # The escape: as many events as there are different symbols (method C).
                unit = left / (weight + len(counts))
                for symbol, count in counts.items():
                    shares[symbol] = shares.get(symbol, 0.0) + unit * count
                left = unit * len(counts)
            known = counts
        # Order -1 shares itself among the symbols never met, and one more (Pearce 2005).
        left *= self.size / (self.size + 1 - len(known))
        total = left + sum(shares.values())
        return Spread(left / total, {symbol: share / total for symbol, share in shares.items()})

    def chances(self, past: Sequence[int]) -> tuple[float, ...]:
        """P(symbol after `past`) by symbol, over a uniform base; adds up to 1."""
        left, seen = self.spread(self.reach(past))
        base = left / self.size
        return tuple(base + seen.get(symbol, 0.0) for symbol in range(self.size))

    def _decisive(self, reach: Context) -> Context:
        for start in range(len(reach), 0, -1):
            if len(self._met[reach[start:]]) == 1:
                return reach[start:]
        return reach

    def _longest(self, past: Sequence[int]) -> int:
        return len(past) if self.order is None else min(self.order, len(past))
