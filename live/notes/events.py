"""What goes into the engine. Every event carries its time, so the engine needs no clock."""

from __future__ import annotations

from typing import Literal, NamedTuple

from live.notes.config import EngineConfig
from live.notes.cues import Wish
from live.notes.phrase import Brief, Choice, PhraseNote
from live.notes.places import (
    ANSWER,
    ANSWER_SOURCE,
    CLOCK_IN,
    CLOCK_OUT,
    CLOCK_SOURCE,
    DICTATION_SOURCE,
    FACE_SOURCES,
    KEYS_IN,
    LIGHTS,
    RETURN,
    RETURN_SOURCE,
    SCREEN_SOURCE,
    THROUGH,
)
from live.notes.record import Record

__all__ = [
    "ANSWER",
    "ANSWER_SOURCE",
    "Action",
    "CLOCK_IN",
    "CLOCK_OUT",
    "CLOCK_SOURCE",
    "Change",
    "Compose",
    "Composed",
    "DICTATION_SOURCE",
    "Dictate",
    "Do",
    "Event",
    "FACE_SOURCES",
    "KEYS_IN",
    "Learn",
    "Jump",
    "LIGHTS",
    "MidiIn",
    "Output",
    "RETURN",
    "RETURN_SOURCE",
    "SCREEN_SOURCE",
    "SourceLost",
    "THROUGH",
    "Tick",
]

Action = Literal[
    "start",
    "continue",
    "stop",
    "again",
    "more",
    "keep",
    "hold",
    "panic",
    "choose",
    "lights",
    "release",
]


class MidiIn(NamedTuple):
    """One whole, valid MIDI message from a source, stamped on arrival."""

    at_ns: int
    source: int
    data: bytes


class Tick(NamedTuple):
    """Time has come this far; what is due is done."""

    at_ns: int


class Change(NamedTuple):
    """New settings take effect.

    `by_hand` names the values that the player has just set (`key`, `progression`, `groove`, `form`,
    `tempo`): they win over those of the section that runs; None = nothing does any longer. `cue` is
    the number of the last cue that was known when the settings were made; None = never out of date.
    """

    at_ns: int
    config: EngineConfig
    by_hand: frozenset[str] | None = frozenset()
    cue: int | None = None


class Jump(NamedTuple):
    """The player asks for a section of the song: `next`, `back`, or its name."""

    at_ns: int
    to: str


class Learn(NamedTuple):
    """The next message that can be a cue becomes one; None = no longer."""

    at_ns: int
    wish: Wish | None


class Do(NamedTuple):
    """The player asks for something.

    `value` is the rank for `choose`, and for `continue` the bar from 1, or 0 = where we stopped.

    `lights` has every light drawn again.

    `release` stops the transport and ends every note, as before the end of the program.
    """

    at_ns: int
    action: Action
    value: int = 0


class Composed(NamedTuple):
    """The composer's result for a request."""

    at_ns: int
    request: int
    choices: tuple[Choice, ...]


class Dictate(NamedTuple):
    """Notes that the player is to find by ear sound on the answer port; none = no longer.

    Their onsets and lengths are ticks at the tempo that is felt (`live.notes.dictation`), and
    `wait_beats` of it pass before they begin: while the transport plays, on a beat.
    """

    at_ns: int
    notes: tuple[PhraseNote, ...]
    wait_beats: float = 0.0


class SourceLost(NamedTuple):
    """An input has gone; what it held is released."""

    at_ns: int
    source: int


Event = MidiIn | Tick | Change | Do | Jump | Learn | Composed | Dictate | SourceLost


class Compose(NamedTuple):
    """An output: the composer is asked for choices; it answers with `Composed`."""

    request: int
    brief: Brief


Output = Record | Compose
"""What a step gives back: records (of kind `out` = a message to send) and requests."""
