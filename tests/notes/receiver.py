"""A model of whatever listens to our outputs, written from MIDI 1.0 and not from our code.

It counts what sounds from the bytes alone. Source of the rules: MIDI 1.0 Detailed Specification
4.2.1, "Channel Voice Messages" (note-on with velocity 0 is a note-off), "Channel Mode Messages"
(120 all sound off, 123 all notes off; 124 to 127 also mean all notes off), "System Reset".
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

Note = tuple[str, int, int]
"""(port, channel, note)."""


@dataclass
class Receiver:
    """Hears records of kind `out`.

    Args:
        deaf: takes no notice of channel mode messages and reset, as old gear may: then every
            note must end by a note-off of its own.
    """

    deaf: bool = True
    sounding: set[Note] = field(default_factory=set)
    ons: Counter[Note] = field(default_factory=Counter)
    offs: Counter[Note] = field(default_factory=Counter)
    struck_twice: list[Note] = field(default_factory=list)
    lone_offs: list[Note] = field(default_factory=list)

    def hear(self, record) -> None:
        if record.kind != "out":
            return
        status, channel = record.data[0] & 0xF0, record.data[0] & 0x0F
        if status in (0x80, 0x90):
            note = (record.port, channel, record.data[1])
            if status == 0x90 and record.data[2] > 0:
                self._on(note)
            else:
                self._off(note)
        elif not self.deaf and status == 0xB0 and record.data[1] in {120, *range(123, 128)}:
            self.sounding -= {n for n in self.sounding if n[:2] == (record.port, channel)}
        elif not self.deaf and record.data[0] == 0xFF:
            self.sounding -= {n for n in self.sounding if n[0] == record.port}

    def _on(self, note: Note) -> None:
        if note in self.sounding:
            self.struck_twice.append(note)
        self.sounding.add(note)
        self.ons[note] += 1

    def _off(self, note: Note) -> None:
        if note in self.sounding:
            self.sounding.remove(note)
            self.offs[note] += 1
        else:
            self.lone_offs.append(note)
