"""Routes: an input copied to an output as it is, beside the zones or instead of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from live.notes.midi import (
    ACTIVE_SENSING,
    CONTROL_CHANGE,
    NOTE_OFF,
    NOTE_ON,
    PITCH_BEND,
    POLY_PRESSURE,
)
from live.theory.errors import FieldError

Part = Literal["notes", "controllers", "programs", "bend", "pressure", "sysex", "clock"]
PARTS: tuple[Part, ...] = (
    "notes", "controllers", "programs", "bend", "pressure", "sysex", "clock",
)  # fmt: skip
"""What a route may be narrowed to. `sysex` is system exclusive, tune request and system reset;
`clock` is clock, start, continue, stop, song position, song select and time code."""

_OF_KIND: Final[dict[int, Part]] = {
    NOTE_OFF: "notes",
    NOTE_ON: "notes",
    POLY_PRESSURE: "pressure",
    CONTROL_CHANGE: "controllers",
    0xC0: "programs",
    0xD0: "pressure",
    PITCH_BEND: "bend",
}
"""MIDI 1.0 Detailed Specification 4.2.1 (MMA 1996), table I."""

_SYSEX: Final = frozenset({0xF0, 0xF6, 0xFF})


def part_of(status: int) -> Part | None:
    """What a message with this status belongs to; None for active sensing, which no route copies.

    Each of our outputs would otherwise promise to keep talking (see live.notes.sensing).
    """
    if status < 0xF0:
        return _OF_KIND[status & 0xF0]
    if status == ACTIVE_SENSING:
        return None
    return "sysex" if status in _SYSEX else "clock"


@dataclass(frozen=True, slots=True)
class Route:
    """What comes in on an input is copied to an output.

    Args:
        input, output: labels.
        channels: MIDI channels 0 to 15 that are copied; empty = all. Messages of no channel are
            copied always.
        out_channel: channel 0 to 15 the copies leave on, None = the one they came on.
        only: what is copied; empty = everything.
        sources: the source numbers of `input`.
    Raises: FieldError.
    """

    input: str
    output: str
    channels: frozenset[int] = frozenset()
    out_channel: int | None = None
    only: frozenset[Part] = frozenset()
    sources: frozenset[int] = frozenset()

    def __post_init__(self) -> None:
        for channel in (*self.channels, self.out_channel or 0):
            if not 0 <= channel <= 15:
                raise FieldError("route channel", "0 to 15", channel)
        for part in self.only:
            if part not in PARTS:
                raise FieldError("route only", ", ".join(PARTS), part)

    def copies(self, part: Part) -> bool:
        """True if this part is copied."""
        return not self.only or part in self.only

    def hears(self, channel: int) -> bool:
        """True if this channel is copied."""
        return not self.channels or channel in self.channels
