"""Time signatures."""

from __future__ import annotations

import re
from dataclasses import dataclass

from live.clock.units import TICKS_PER_BEAT
from live.theory.errors import FieldError

_DENOMINATORS = (2, 4, 8, 16)
_WRITTEN = re.compile(r"([0-9]{1,3})\s*/\s*([0-9]{1,3})")


@dataclass(frozen=True, slots=True)
class Metre:
    """A time signature, for example 4/4 or 6/8.

    Args:
        beats: upper number, 1 to 32 inclusive.
        unit: lower number, one of 2, 4, 8, 16.
    Raises: FieldError.
    """

    beats: int = 4
    unit: int = 4

    def __post_init__(self) -> None:
        if not 1 <= self.beats <= 32 or self.unit not in _DENOMINATORS:
            got = f"{self.beats}/{self.unit}"
            raise FieldError("metre", "1 to 32 over 2, 4, 8 or 16, such as 4/4", got)

    @property
    def bar_ticks(self) -> int:
        """Length of a bar in ticks."""
        return self.beats * TICKS_PER_BEAT * 4 // self.unit

    @property
    def beat_ticks(self) -> int:
        """Length of the signature's own beat (its lower number) in ticks."""
        return TICKS_PER_BEAT * 4 // self.unit

    @property
    def compound(self) -> bool:
        """Whether the felt beat is dotted: 3/8, 6/8, 9/8, 12/8 and their like (common practice)."""
        return self.unit >= 8 and self.beats % 3 == 0

    def __str__(self) -> str:
        return f"{self.beats}/{self.unit}"


def parse_metre(text: str) -> Metre:
    """Read `4/4`; raises FieldError for anything else."""
    match = _WRITTEN.fullmatch(text.strip())
    if match is None:
        raise FieldError("metre", "two whole numbers, such as 4/4", text)
    return Metre(int(match[1]), int(match[2]))
