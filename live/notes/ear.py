"""The ear: notes put down for whoever weighs the key, the chord that sounds, and the drums.

Nothing is weighed here: notes are put down as they come in, in order, and taken away by another
process, so that the path of a note is not held up. Drums say nothing of a key, nor do presses under
the white-keys policy, which are degrees.
"""

from __future__ import annotations

from collections import deque
from typing import Final

from live.clock.transport import Transport
from live.notes.held import HeldLedger

MAX_WAITING: Final = 64
"""Presses and releases put down between two takings; what comes in beyond is no playing (own
choice)."""
MAX_STROKES: Final = 256
"""Strokes of the drums that are remembered (own choice: some sixteen busy bars)."""

ALL: Final = -1
"""Instead of a note: every note."""
OFF: Final = -1
"""Instead of a time: the note ends."""
FORGET: Final = -2
"""Instead of a time, with ALL: the key has been set, what was heard before it is past."""

Heard = tuple[int, int]
"""(note pressed, monotonic time in nanoseconds), or one of the marks above in their places."""
Key = tuple[int, int, int]
"""(source, channel, note pressed)"""


class Ear:
    """Listens beside the path.

    Args:
        transport: says where in the song a stroke falls.
    Thread: one owner (the engine's).
    """

    def __init__(self, transport: Transport) -> None:
        self.drums: deque[tuple[int, int, int]] = deque(maxlen=MAX_STROKES)
        """(tick from the song's start, key, velocity) of each stroke, the transport playing."""
        self._transport = transport
        self._waiting: list[Heard] = []
        self._down: dict[Key, bool] = {}  # key -> tells of a key
        self._flooded = False

    def press(self, key: Key, at_ns: int, *, tells: bool) -> None:
        """A note that is no drum begins.

        Args:
            key: of the keyboard.
            at_ns: monotonic time.
            tells: False if what was pressed says nothing of a key.
        """
        self._down[key] = tells
        if tells:
            self._put(key[2], at_ns)

    def strike(self, key: int, velocity: int, at_ns: int) -> None:
        """A drum is struck; after a jump back the strokes before it are forgotten."""
        if not self._transport.playing:
            return
        tick = round(self._transport.ticks_at(at_ns))
        if self.drums and tick < self.drums[-1][0]:
            self.drums.clear()
        self.drums.append((tick, key, velocity))

    def release(self, key: Key) -> None:
        """A key comes up; one that was not heard is passed over."""
        if self._down.pop(key, False):
            self._put(key[2], OFF)

    def reset(self) -> None:
        """The key was set: what was heard is past. What is down stays down."""
        self._waiting = [(ALL, FORGET)]

    def take(self, ledger: HeldLedger) -> tuple[Heard, ...]:
        """What has been heard since the last taking, in order.

        Args:
            ledger: says which keys are still down.
        """
        for key in [key for key in self._down if not ledger.is_down(*key)]:
            self.release(key)
        taken, self._waiting = tuple(self._waiting), []
        if self._flooded:  # releases may have been passed over
            self._flooded = False
            taken += ((ALL, OFF),)
        return taken

    def chord(self, ledger: HeldLedger) -> tuple[int, ...]:
        """MIDI notes that sound for keys that are down, drums left out, ascending."""
        outs = (ledger.sounding_for(*key) for key in self._down if ledger.is_down(*key))
        return tuple(sorted({out.note for out in outs if out is not None}))

    def _put(self, note: int, at_ns: int) -> None:
        if len(self._waiting) < MAX_WAITING:
            self._waiting.append((note, at_ns))
        else:
            self._flooded = True
