"""The form: how many bars of call, how many of answer, and where in it a position lies."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from live.theory.errors import FieldError

Part = Literal["call", "answer"]
BAR_COUNTS: tuple[int, ...] = (1, 2, 4, 8)


@dataclass(frozen=True, slots=True)
class Form:
    """Bars of call, bars of answer; free = a call ends when the player pauses.

    Raises: FieldError unless both are 1, 2, 4 or 8.
    """

    call_bars: int = 2
    answer_bars: int = 2
    free: bool = False

    def __post_init__(self) -> None:
        for name, bars in (("call bars", self.call_bars), ("answer bars", self.answer_bars)):
            if bars not in BAR_COUNTS:
                raise FieldError(name, "1, 2, 4 or 8", bars)

    @property
    def bars(self) -> int:
        """Bars of one round of call and answer."""
        return self.call_bars + self.answer_bars

    def round_start_bar(self, bar: int) -> int:
        """First bar of the round that holds `bar` (bars counted from 0)."""
        return bar - bar % self.bars

    def part_at(self, bar: int) -> tuple[Part, int]:
        """The part that holds `bar`, and that part's first bar."""
        start = self.round_start_bar(bar)
        if bar - start < self.call_bars:
            return "call", start
        return "answer", start + self.call_bars

    def __str__(self) -> str:
        return "free" if self.free else f"{self.call_bars} + {self.answer_bars}"
