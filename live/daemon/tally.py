"""What sounds at the receivers, counted from the records of what went out.

The supervisor keeps it, so that a new engine can release what a dead one left: notes, the pedals
that would let them ring on, and bends, modulation and pressure that nobody would take back.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TypeVar

from live.notes.gestures import is_rest, rest_of
from live.notes.midi import NOTE_OFF, NOTE_ON, note_off
from live.notes.record import Record

_One = TypeVar("_One")

Ending = tuple[str, bytes]
"""(port, message that ends a note or a gesture)."""


class SoundingTally:
    """Follows notes and gestures that went out. Thread: one owner."""

    def __init__(self) -> None:
        self._sounding: set[tuple[str, int, int]] = set()  # (port, channel, note)
        self._held: set[Ending] = set()  # what ends each gesture

    def count(self, records: Iterable[Record]) -> None:
        """Take in what went out."""
        for record in records:
            if record.kind != "out":
                continue
            data = record.data
            if data[0] & 0xF0 in (NOTE_ON, NOTE_OFF):
                is_on = data[0] & 0xF0 == NOTE_ON and data[2] > 0
                _mark(self._sounding, (record.port, data[0] & 0x0F, data[1]), is_on=is_on)
            elif (rest := rest_of(data)) is not None:
                _mark(self._held, (record.port, rest), is_on=not is_rest(data))

    def endings(self) -> list[Ending]:
        """What ends all that sounds, notes first; until the records of it have come."""
        notes = [(port, note_off(channel, note)) for port, channel, note in sorted(self._sounding)]
        return notes + sorted(self._held)


def _mark(what: set[_One], one: _One, *, is_on: bool) -> None:
    """Note in the set whether this is on."""
    if is_on:
        what.add(one)
    else:
        what.discard(one)
