"""What a record means to a take: which part it belongs to, note or not, its detail."""

from __future__ import annotations

import json
from typing import Any, Final, Literal, NamedTuple

from live.clock.metre import Metre, parse_metre
from live.clock.units import beat_us
from live.notes.midi import NOTE_OFF, NOTE_ON
from live.notes.places import ANSWER, CLOCK_IN, CLOCK_OUT, LIGHTS, RETURN, THROUGH
from live.notes.record import DICTATED, Record
from live.theory.errors import FieldError

Part = Literal["played", "through", "answer"]
PARTS: Final[tuple[Part, ...]] = ("played", "through", "answer")
"""The parts of a take, in the order of their tracks."""

DEFAULT_TEMPO_BPM: Final = 120.0
"""Where nothing was said (Standard MIDI Files 1.0, RP-001: no tempo means 120, 4/4)."""

_OUT_PARTS: Final[dict[str, Part]] = {THROUGH: "through", ANSWER: "answer"}
TO: Final = "to "
_NO_TRACK: Final = (CLOCK_OUT, LIGHTS, "")
_EITHER_NOTE: Final = NOTE_OFF & NOTE_ON  # the bits that note-on and note-off share


class NoteEdge(NamedTuple):
    """A note begins or ends: channel 0 to 15, pitch 0 to 127, velocity 1 to 127 (0 = it ends)."""

    channel: int
    pitch: int
    velocity: int


def part_of(record: Record) -> Part | None:
    """The part that a message belongs to, None for everything else.

    What was dictated was played by nobody.
    """
    if record.detail == DICTATED:
        return None
    if record.kind == "in":
        return None if record.port in (CLOCK_IN, RETURN) else "played"
    return _OUT_PARTS.get(record.port) if record.kind == "out" else None


def track_of(record: Record) -> str | None:
    """The track of an export that a message belongs to, None for everything else.

    It is its part, or `to NAME` for what left on a further output. Such notes lie in a take, but
    begin none.
    """
    if record.kind == "out" and record.port not in _NO_TRACK and record.detail != DICTATED:
        return _OUT_PARTS.get(record.port, TO + record.port)
    return part_of(record)


def note_edge(data: bytes) -> NoteEdge | None:
    """A note-on or note-off (velocity 0 is an off: MIDI 1.0), None for other messages."""
    if len(data) != 3 or data[0] & 0xE0 != _EITHER_NOTE:
        return None
    velocity = data[2] if data[0] & 0xF0 == NOTE_ON else 0
    return NoteEdge(data[0] & 0x0F, data[1], velocity)


def detail_of(record: Record) -> dict[str, Any]:
    """The record's detail; an empty one if there is none or it cannot be read."""
    try:
        detail = json.loads(record.detail) if record.detail else {}
    except ValueError:
        return {}
    return detail if isinstance(detail, dict) else {}


def tempo_of(detail: dict[str, Any]) -> float | None:
    """The tempo a detail states, None if it states none that a file can hold."""
    tempo = detail.get("tempo")
    if not isinstance(tempo, int | float):
        return None
    return None if beat_us(tempo) is None else float(tempo)


def metre_of(detail: dict[str, Any]) -> Metre | None:
    """The time signature a detail states, None if it states none that can be read."""
    try:
        return parse_metre(detail["metre"])
    except (KeyError, AttributeError, FieldError):
        return None
