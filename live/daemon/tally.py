"""What sounds at the receivers, counted from the records of what went out.

The supervisor keeps it, so that a new engine can release what a dead one left sounding: notes, and
the pedals that would let them ring on.
"""

from __future__ import annotations

from collections.abc import Iterable

from live.notes.midi import (
    CONTROL_CHANGE,
    NOTE_OFF,
    NOTE_ON,
    PEDAL_DOWN,
    SOSTENUTO,
    SUSTAIN,
    control_change,
    note_off,
)
from live.notes.record import Record

Ending = tuple[str, bytes]
"""(port, message that ends a note or lifts a pedal)."""


class SoundingTally:
    """Follows notes and pedals that went out. Thread: one owner."""

    def __init__(self) -> None:
        self._sounding: set[tuple[str, int, int]] = set()  # (port, channel, note)
        self._pedals: set[tuple[str, int, int]] = set()  # (port, channel, controller)

    def count(self, records: Iterable[Record]) -> None:
        """Take in what went out."""
        for record in records:
            if record.kind != "out":
                continue
            kind = record.data[0] & 0xF0
            if kind in (NOTE_ON, NOTE_OFF):
                is_on = kind == NOTE_ON and record.data[2] > 0
                _mark(self._sounding, record, is_on=is_on)
            elif kind == CONTROL_CHANGE and record.data[1] in (SUSTAIN, SOSTENUTO):
                _mark(self._pedals, record, is_on=record.data[2] >= PEDAL_DOWN)

    def endings(self) -> list[Ending]:
        """What ends all that sounds, notes first; until the records of it have come."""
        notes = [(port, note_off(channel, note)) for port, channel, note in sorted(self._sounding)]
        lifts = [(port, control_change(channel, c, 0)) for port, channel, c in sorted(self._pedals)]
        return notes + lifts


def _mark(what: set[tuple[str, int, int]], record: Record, *, is_on: bool) -> None:
    """Note in the set whether this is on."""
    one = (record.port, record.data[0] & 0x0F, record.data[1])
    if is_on:
        what.add(one)
    else:
        what.discard(one)
