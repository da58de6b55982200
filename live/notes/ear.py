"""The ear: which key the player seems to be in, the chord that sounds, and the drums.

Notes are only put down as they come in, in order; they are weighed when somebody looks, so that
the path of a note is not held up. Drums say nothing of a key, nor do presses under the white-keys
policy, which are degrees.
"""

from __future__ import annotations

from collections import deque
from typing import Final, NamedTuple

from live.clock.transport import Transport
from live.notes.held import HeldLedger
from live.theory.keyfollow import KeyGuess
from live.theory.playfollow import PlayingFollower

MAX_WAITING: Final = 64
"""Presses and releases weighed at one look; what comes in beyond is no playing (own choice)."""

MAX_STROKES: Final = 256
"""Strokes of the drums that are remembered (own choice: some sixteen busy bars)."""

_NS_PER_S: Final = 1_000_000_000

Key = tuple[int, int, int]
"""(source, channel, note pressed)"""


class Heard(NamedTuple):
    """What the ear makes of the playing.

    Args:
        guess: keys ranked; None before the first note.
        presses: notes weighed since the last reset.
        chord: MIDI notes that sound for keys that are down, drums left out, ascending.
    """

    guess: KeyGuess | None
    presses: int
    chord: tuple[int, ...]


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
        self._follower = PlayingFollower()
        self._waiting: list[tuple[Key, int]] = []
        self._down: dict[Key, bool] = {}  # key -> tells of a key
        self._flooded = False
        self._presses = 0
        self._guess: KeyGuess | None = None

    def press(self, key: Key, at_ns: int, *, tells: bool) -> None:
        """A note that is no drum begins.

        Args:
            key: of the keyboard.
            at_ns: monotonic time.
            tells: False if what was pressed says nothing of a key.
        """
        self._down[key] = tells
        if tells:
            self._put(key, at_ns)

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
            self._put(key, -1)

    def reset(self) -> None:
        """Forget which key it was; what is down stays down."""
        self._waiting.clear()
        self._follower.reset()
        self._presses = 0
        self._guess = None

    def look(self, ledger: HeldLedger) -> Heard:
        """Weigh what has come in since the last look.

        Args:
            ledger: says which keys are still down, and what sounds for them.
        """
        for key in [key for key in self._down if not ledger.is_down(*key)]:
            self.release(key)
        if self._waiting:
            self._weigh()
        outs = (ledger.sounding_for(*key) for key in self._down)
        chord = tuple(sorted({out.note for out in outs if out is not None}))
        return Heard(self._guess, self._presses, chord)

    def _put(self, key: Key, at_ns: int) -> None:
        if len(self._waiting) < MAX_WAITING:
            self._waiting.append((key, at_ns))
        else:
            self._flooded = True

    def _weigh(self) -> None:
        follower = self._follower
        for (_, _, note), at_ns in self._waiting:
            if at_ns < 0:
                follower.release(note)
            else:
                follower.update(note, at_ns / _NS_PER_S)
                self._presses += 1
        self._waiting.clear()
        if self._flooded:  # releases may have been passed over
            self._flooded = False
            for note in range(128):
                follower.release(note)
        if self._presses:
            self._guess = follower.guess()
