"""A receiver of notes, independent of ours: it knows what sounds, from the bytes it hears.

Rules: MIDI 1.0 Detailed Specification, channel voice messages (note-on velocity 0 is a note-off).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable


class Receiver:
    """Counts note-ons and note-offs by channel and note."""

    def __init__(self) -> None:
        self.sounding: Counter[tuple[int, int]] = Counter()
        self.ons: list[int] = []
        self.stray_offs = 0
        self.doubled_ons = 0

    def hear(self, messages: Iterable[bytes]) -> None:
        for data in messages:
            kind, key = data[0] & 0xF0, (data[0] & 0x0F, data[1] if len(data) > 1 else 0)
            if kind == 0x90 and data[2]:
                self.ons.append(data[1])
                self.doubled_ons += self.sounding[key] > 0
                self.sounding[key] += 1
            elif kind in (0x80, 0x90):
                if self.sounding[key]:
                    self.sounding[key] -= 1
                else:
                    self.stray_offs += 1

    @property
    def held(self) -> list[tuple[int, int]]:
        return sorted(key for key, count in self.sounding.items() if count)
