"""Cues: messages of the controller that give a command and are not heard. Pure.

A cue takes its message whole: the note-off of its note and the controller on its way back belong to
it too. A controller gives its command when it comes to 64 or more from below (MIDI 1.0, switches).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final, Literal, NamedTuple

from live.notes.midi import (
    CONTROL_CHANGE,
    NOTE_OFF,
    NOTE_ON,
    PEDAL_DOWN,
    POLY_PRESSURE,
    PROGRAM_CHANGE,
    SUSTAIN,
)
from live.theory.errors import FieldError
from live.theory.keys import parse_key

Kind = Literal["note", "controller", "program"]
HIGHEST: Final[dict[Kind, int]] = {"note": 127, "controller": 119, "program": 127}
"""Controllers from 120 on are channel mode messages (MIDI 1.0)."""
_STATUS: Final[dict[Kind, int]] = {
    "note": NOTE_ON,
    "controller": CONTROL_CHANGE,
    "program": PROGRAM_CHANGE,
}
_NAMES: Final = parse_key("C major")
TONIC_NOTES: Final = 12
"""Notes of a range that is learned for `tonic`: the one that was played and those above it."""


@dataclass(frozen=True, slots=True)
class Trigger:
    """Which messages a cue takes.

    Args:
        kind: notes, a controller, or a program.
        low, high: numbers, inclusive; notes and programs 0 to 127, controllers 0 to 119.
        channel: 0 to 15, None = any.
    Raises: FieldError.
    """

    kind: Kind
    low: int
    high: int
    channel: int | None = None

    def __post_init__(self) -> None:
        highest = HIGHEST[self.kind]
        if not 0 <= self.low <= self.high <= highest:
            got = (self.low, self.high)
            raise FieldError(f"cue {self.kind}", f"0 to {highest}, in order", got)

    def __str__(self) -> str:
        if self.kind != "note":
            pedal = self.kind == "controller" and self.low == self.high == SUSTAIN
            return "pedal" if pedal else f"{self.kind} {self.low}"
        if self.low == self.high:
            return f"note {_NAMES.note_name(self.low)}"
        return f"notes {_NAMES.note_name(self.low)}:{_NAMES.note_name(self.high)}"


@dataclass(frozen=True, slots=True)
class Wish:
    """What a cue does, read beforehand, so that nothing is read on the live path.

    Args:
        command: in words, as one would tell it.
        action, value: an action of the engine (`start`, `keep` ...), "" = none.
        section: the section to go to, "" = none.
        changes: values of the settings (`key`, `snap`, `groove`, `form`, `tempo_bpm`) to take.
        tonic: the note played becomes the tonic; the scale stays.
    """

    command: str
    action: str = ""
    value: int = 0
    section: str = ""
    changes: tuple[tuple[str, Any], ...] = ()
    tonic: bool = False


@dataclass(frozen=True, slots=True)
class Cue:
    """Messages, and what they do."""

    trigger: Trigger
    wish: Wish


class Heard(NamedTuple):
    """A message that is not to be heard: what it asks for, and the cue that it has become."""

    wish: Wish | None = None
    learned: Cue | None = None


ABSORBED: Final = Heard()


class CueWatch:
    """Tells cues from what is played.

    Thread: one owner (the engine's).
    """

    def __init__(self) -> None:
        self.on = False
        """False while no message can be a cue: then nothing need be asked."""
        self._cues: dict[int, Cue] = {}  # status and number -> cue
        self._learning: Wish | None = None
        self._values: dict[tuple[int, int, int], int] = {}  # controllers, while we learn
        self._down: set[tuple[int, int, int]] = set()  # (source, channel, note)
        self._high: set[tuple[int, int, int]] = set()  # (source, channel, controller)

    def configure(self, cues: Iterable[Cue]) -> None:
        """Use these cues; the first that fits a message is the one."""
        self._cues.clear()
        for cue in cues:
            trigger = cue.trigger
            channels = range(16) if trigger.channel is None else (trigger.channel,)
            for channel in channels:
                for number in range(trigger.low, trigger.high + 1):
                    self._cues.setdefault((_STATUS[trigger.kind] | channel) << 7 | number, cue)
        self._look()

    def learn(self, wish: Wish | None) -> None:
        """The next note, controller that goes up, or program becomes a cue; None = no longer."""
        self._learning = wish
        self._values.clear()
        self._look()

    def forget(self, source: int) -> None:
        """An input has gone: its keys and controllers are up."""
        self._down = {key for key in self._down if key[0] != source}
        self._high = {key for key in self._high if key[0] != source}
        self._look()

    def hear(self, source: int, data: bytes) -> Heard | None:
        """Take in a message of the controller. Returns: None if it is none of ours."""
        kind = data[0] & 0xF0
        if len(data) < 2 or kind == 0xF0:
            return None
        key = (source, data[0] & 0x0F, data[1])
        if kind == CONTROL_CHANGE:
            return self._control(key, data)
        if kind == NOTE_ON and data[2]:
            self._down.discard(key)
            heard = self._press(data)
            if heard is not None:
                self._down.add(key)
            return heard
        if kind in (NOTE_OFF, NOTE_ON):
            if key not in self._down:
                return None
            self._down.discard(key)
            self._look()
            return ABSORBED
        if kind == PROGRAM_CHANGE:
            return self._press(data)
        return ABSORBED if kind == POLY_PRESSURE and key in self._down else None

    def _control(self, key: tuple[int, int, int], data: bytes) -> Heard | None:
        was_high, is_high = key in self._high, data[2] >= PEDAL_DOWN
        ours = was_high or data[0] << 7 | data[1] in self._cues
        if self._learns(CONTROL_CHANGE) and data[1] <= HIGHEST["controller"]:
            rises = data[2] > self._values.get(key, 0)
            self._values[key] = data[2]
            ours |= rises and is_high
            was_high &= not rises
        if not ours:
            return None
        if is_high:
            self._high.add(key)
            return ABSORBED if was_high else self._press(data) or ABSORBED
        self._high.discard(key)
        self._look()
        return ABSORBED

    def _press(self, data: bytes) -> Heard | None:
        wish = self._learning
        if wish is not None and self._learns(data[0] & 0xF0):
            cue = Cue(_trigger(data, wish), wish)
            self.learn(None)
            self.on = True  # the end of this message is still to come
            return Heard(learned=cue)
        cue_here = self._cues.get(data[0] << 7 | data[1])
        return None if cue_here is None else Heard(cue_here.wish)

    def _learns(self, kind: int) -> bool:
        """True if a message of this kind can become the cue that is waited for."""
        return self._learning is not None and (kind == NOTE_ON or not self._learning.tonic)

    def _look(self) -> None:
        self.on = bool(self._cues or self._learning or self._down or self._high)


def _trigger(data: bytes, wish: Wish) -> Trigger:
    """The trigger that a message teaches: this very one; for `tonic` an octave of keys."""
    kind = next(kind for kind, status in _STATUS.items() if status == data[0] & 0xF0)
    high = data[1]
    if wish.tonic:
        high = min(127, high + TONIC_NOTES - 1)
    return Trigger(kind, data[1], high, data[0] & 0x0F)
