"""Cues in the settings file: `[[cue]]` tables, the first that fits a message is used."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

from live.daemon.commands import read_command
from live.daemon.fields import find_field
from live.daemon.section_table import SectionRow
from live.daemon.table_reading import (
    CHANNEL,
    Table,
    check_keys,
    read_channel,
    read_each,
    read_note_range,
    text_of,
)
from live.notes.cues import Cue, Trigger, Wish
from live.notes.events import Do, Jump
from live.notes.form import Form
from live.notes.midi import SUSTAIN
from live.theory.errors import FieldError
from live.theory.keys import parse_key
from live.theory.pitch import parse_note
from live.theory.progressions import parse_progression
from live.theory.scales import Scale

TONIC: Final = "tonic"
"""The note that is played becomes the tonic, the scale stays."""
COMMANDS_OF_CUES: Final = (
    "key", "section", "groove", "snap", "progression", "tempo", "form", "again", "more", "keep",
    "hold", "choose", "panic", "start", "stop", "continue", "tap", "set",
)  # fmt: skip
_ON: Final = (
    "note C0, notes C0:B0, controller 20 (0 to 119, when it comes to 64 or more), program 3 (0 to"
    " 127, as in the message), or pedal (controller 64)"
)
_DOES: Final = f"{TONIC} (for notes), or a command: {', '.join(COMMANDS_OF_CUES)}"

CUE_FIELDS: Final[dict[str, str]] = {
    "on": f"{_ON}; needed",
    "channel": f"{CHANNEL}; without it any",
    "does": f"{_DOES}; as after `undersong tell`; needed",
}
"""The keys of a `[[cue]]` table and what they allow."""


def read_cues(
    tables: object, text: str, own: Iterable[Scale], sections: tuple[SectionRow, ...]
) -> tuple[Cue, ...]:
    """Cues from parsed TOML.

    Args:
        tables: what the TOML parser made of them.
        text: the file, to say the line.
        own: the player's own scales.
        sections: the song plan, whose names a cue may give.
    Raises: FieldError.
    """
    scales = tuple(own)
    return read_each("cue", tables, text, lambda table, _: read_cue(table, scales, sections))


def read_cue(table: Table, own: tuple[Scale, ...], sections: tuple[SectionRow, ...]) -> Cue:
    """One cue from its table. Raises: FieldError."""
    check_keys("cue", table, CUE_FIELDS)
    channel = None
    if table.get("channel") is not None:
        channel = read_channel("cue.channel", table["channel"])
    trigger = _trigger(text_of("cue.on", table.get("on", "")), channel)
    wish = read_wish(text_of("cue.does", table.get("does", "")), own, sections)
    if wish.tonic and trigger.kind != "note":
        raise FieldError("cue.does", f"{TONIC} only for a note or notes", str(trigger))
    return Cue(trigger, wish)


def read_wish(
    text: str, own: Iterable[Scale], sections: tuple[SectionRow, ...], field: str = "cue.does"
) -> Wish:
    """What a cue does, in words as after `undersong tell`.

    Args:
        text: the words.
        own: the player's own scales.
        sections: the song plan.
        field: how errors name it.
    Raises: FieldError.
    """
    words = text.split()
    if words == [TONIC]:
        return Wish(TONIC, tonic=True)
    if not words or words[0] not in COMMANDS_OF_CUES:
        raise FieldError(field, _DOES, text)
    try:
        order = read_command(words[0], words[1:], own)
        event, command = order.event, " ".join(words)
        if isinstance(event, Jump):
            _check_section(event.to, sections)
            return Wish(command, section=event.to)
        if isinstance(event, Do):
            return Wish(command, action=event.action, value=event.value)
        return Wish(command, changes=tuple(_values(order.changes, own).items()))
    except FieldError as error:
        allowed = f"{error.field}: {error.allowed}" if error.field != words[0] else error.allowed
        raise FieldError(field, allowed, text) from None


def _values(changes: dict[str, Any], own: Iterable[Scale]) -> dict[str, Any]:
    """The engine's values among changed settings, read; FieldError if one cannot be."""
    values: dict[str, Any] = {}
    for name, value in changes.items():
        match name:
            case "play.key":
                values["key"] = parse_key(value, own)
            case "play.snap":
                values["snap"] = value
            case "time.tempo":
                values["tempo_bpm"] = value
            case "answer.groove":
                values["groove"] = value
            case "play.progression" if value:
                parse_progression(value, parse_key(find_field("play.key").default))
    if len(changes) > 1 and "form.answer_bars" in changes:
        values["form"] = Form(changes["form.call_bars"], changes["form.answer_bars"])
    return values


def _check_section(name: str, sections: tuple[SectionRow, ...]) -> None:
    names = ("next", "back", *dict.fromkeys(row.name for row in sections))
    if not sections:
        raise FieldError("section", "once there are [[section]] tables", name)
    if name.casefold() not in {one.casefold() for one in names}:
        raise FieldError("section", ", ".join(names), name)


def _trigger(text: str, channel: int | None) -> Trigger:
    kind, _, rest = text.strip().partition(" ")
    rest = rest.strip()
    try:
        match kind:
            case "pedal" if not rest:
                return Trigger("controller", SUSTAIN, SUSTAIN, channel)
            case "note":
                note = parse_note(rest)
                return Trigger("note", note, note, channel)
            case "notes":
                low, high = read_note_range("cue.on", rest)
                return Trigger("note", low, high, channel)
            case "controller" | "program" if rest.isdecimal() and len(rest) <= 3:
                number = int(rest)
                return Trigger("program" if kind == "program" else "controller", number, number,
                               channel)  # fmt: skip
    except FieldError as error:
        raise FieldError("cue.on", error.allowed, text) from None
    raise FieldError("cue.on", _ON, text)
