"""What sounds at the receivers, counted from the records of what went out.

The supervisor keeps it, so that a new engine can release what a dead one left sounding.
"""

from __future__ import annotations

from collections.abc import Iterable

from live.notes.midi import NOTE_OFF, NOTE_ON
from live.notes.record import Record

PlainSounding = tuple[str, int, int]
"""(port, channel 0 to 15, MIDI note)."""


class SoundingTally:
    """Follows note-ons and note-offs that went out. Thread: one owner."""

    def __init__(self) -> None:
        self._sounding: set[PlainSounding] = set()

    def count(self, records: Iterable[Record]) -> None:
        """Take in what went out."""
        for record in records:
            if record.kind != "out":
                continue
            kind = record.data[0] & 0xF0
            if kind not in (NOTE_ON, NOTE_OFF):
                continue
            note = (record.port, record.data[0] & 0x0F, record.data[1])
            if kind == NOTE_ON and record.data[2]:
                self._sounding.add(note)
            else:
                self._sounding.discard(note)

    def all(self) -> list[PlainSounding]:
        """Every note that sounds, until the record of its end has come."""
        return sorted(self._sounding)
