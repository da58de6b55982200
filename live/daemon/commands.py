"""Commands that faces may give, and what each means: settings to change or a wish of the player."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any, Final

from live.daemon.command_list import COMMANDS
from live.daemon.fields import find_field, read_value
from live.notes.events import SCREEN_SOURCE, Action, Do, Event, Jump, MidiIn
from live.notes.midi import note_off, note_on
from live.theory.errors import FieldError
from live.theory.pitch import parse_note
from live.theory.scales import Scale

SETTING_COMMANDS: Final[dict[str, str]] = {
    "key": "play.key",
    "snap": "play.snap",
    "progression": "play.progression",
    "labels": "play.labels",
    "tempo": "time.tempo",
    "groove": "answer.groove",
}
"""Commands that set one setting to their words."""

BY_HAND: Final[dict[str, str]] = {
    "play.key": "key",
    "play.progression": "progression",
    "answer.groove": "groove",
    "time.tempo": "tempo",
    "form.call_bars": "form",
    "form.answer_bars": "form",
    "form.free": "form",
}
"""Settings that a section of the song may have too, as `Change.by_hand` names them."""

_WISHES: Final[tuple[Action, ...]] = (
    "start", "stop", "again", "more", "keep", "hold", "panic", "lights",
)  # fmt: skip
WISHES: Final[dict[str, Action]] = {wish: wish for wish in _WISHES}
"""Commands without words that the engine carries out."""

DRILL_WORDS: Final = ("start", "stop", "pass", "again")

_SCREEN_VELOCITY: Final = 90
LAST_BAR: Final = 16384
"""Song position ends after 1024 bars of 4/4; nobody plays longer than this."""


@dataclass(frozen=True, slots=True)
class Order:
    """What a command asks for.

    Args:
        changes: settings to change, by name.
        event: what the engine is to do; its time is set on arrival.
        special: `status`, `reload`, `tap`, `forget`, `learn`, `drill` or `quit`, done by the
            supervisor; else "".
        what: to forget: `last`, `all` or an id; to learn: a command, or `forget`; of a drill:
            `start`, `stop`, `pass` or `again`.
    """

    changes: dict[str, Any] = field(default_factory=dict)
    event: Event | None = None
    special: str = ""
    what: str = ""


def nothing_heard(command: str) -> str:
    """What `heard` stands for where nobody listens: FieldError."""
    raise FieldError(f"{command} heard", f"once a {command} has been heard", "none")


def read_command(
    command: str,
    args: list[str],
    own: Iterable[Scale] = (),
    heard: Callable[[str], str] = nothing_heard,
) -> Order:
    """Understand a command; FieldError says what is allowed instead.

    Args:
        command: its first word.
        args: its other words.
        own: the player's own scales, which a key may name.
        heard: the key or groove (the command says which) that was heard in the playing, as text;
            FieldError while there is none.
    """
    if command in ("key", "groove") and args == ["heard"]:
        args = [heard(command)]
    if command in SETTING_COMMANDS:
        setting = find_field(SETTING_COMMANDS[command])
        if command == "progression" and not args:
            raise FieldError(command, f"{setting.hint}; none = without", "")
        text = " ".join(args).strip()
        if command == "progression" and text == "none":
            text = ""
        return Order({setting.name: _renamed(command, setting.name, text, own)})
    if command in WISHES and not args:
        return Order(event=Do(0, WISHES[command]))
    if command in ("status", "reload", "quit", "tap") and not args:
        return Order(special=command)
    if command == "set":
        return _set(args, own)
    if command in _READERS:
        return _READERS[command](args)
    if command in COMMANDS:
        raise FieldError(command, "no more words", " ".join(args))
    raise FieldError("command", ", ".join(COMMANDS), command)


def _renamed(command: str, name: str, text: str, own: Iterable[Scale] = ()) -> Any:  # noqa: ANN401 - type depends on the field
    """The value of a setting, its errors under the command's name."""
    try:
        return read_value(name, text, own)
    except FieldError as error:
        raise FieldError(command, error.allowed, error.got, error.where) from None


def under_its_name(command: str, error: FieldError) -> FieldError:
    """An error of the setting that a command sets, named as the player knows it: the command."""
    if error.field != SETTING_COMMANDS.get(command):
        return error
    return FieldError(command, error.allowed, error.got, error.where)


def _form(args: list[str]) -> Order:
    if args == ["free"]:
        return Order({"form.free": True})
    words = [word for word in args if word != "+"]
    if len(words) != 2:
        raise FieldError(
            "form", "bars of call and of answer (1, 2, 4 or 8), or free", " ".join(args)
        )
    call, answer = (_renamed("form", "form.call_bars", word) for word in words)
    return Order({"form.call_bars": call, "form.answer_bars": answer, "form.free": False})


def _choose(args: list[str]) -> Order:
    if len(args) != 1 or not re.fullmatch("[0-9]{1,5}", args[0]):
        raise FieldError("choose", "the number of a choice, from 1", " ".join(args))
    return Order(event=Do(0, "choose", int(args[0])))


def _continue(args: list[str]) -> Order:
    bar = int(args[0]) if len(args) == 1 and re.fullmatch("[0-9]{1,5}", args[0]) else 0
    if args and not 1 <= bar <= LAST_BAR:
        raise FieldError("continue", f"nothing, or a bar from 1 to {LAST_BAR}", " ".join(args))
    return Order(event=Do(0, "continue", bar))


def _forget(args: list[str]) -> Order:
    if len(args) != 1:
        raise FieldError("forget", "last, all, or the id of a kept phrase", " ".join(args))
    return Order(special="forget", what=args[0])


def _drill(args: list[str]) -> Order:
    if len(args) != 1 or args[0] not in DRILL_WORDS:
        raise FieldError("drill", ", ".join(DRILL_WORDS), " ".join(args))
    return Order(special="drill", what=args[0])


def _section(args: list[str]) -> Order:
    name = " ".join(args).strip()
    if not name:
        raise FieldError("section", "next, back, or the name of a section", name)
    return Order(event=Jump(0, name))


def _learn(args: list[str]) -> Order:
    what = " ".join(args).strip()
    if not what:
        raise FieldError("learn", "a command that a cue may give, or forget", what)
    return Order(special="learn", what=what)


def _note(args: list[str]) -> Order:
    if len(args) not in (2, 3) or args[0] not in ("on", "off"):
        raise FieldError("note", "on or off, a note, and perhaps a velocity", " ".join(args))
    pitch = parse_note(args[1])
    text = args[2] if len(args) == 3 else str(_SCREEN_VELOCITY)
    velocity = int(text) if re.fullmatch("[0-9]{1,3}", text) else 0
    if not 1 <= velocity <= 127:
        raise FieldError("note velocity", "a whole number from 1 to 127", text)
    data = note_on(0, pitch, velocity) if args[0] == "on" else note_off(0, pitch)
    return Order(event=MidiIn(0, SCREEN_SOURCE, data))


def _set(args: list[str], own: Iterable[Scale]) -> Order:
    if not args:
        raise FieldError("set", "a setting's name and its value", "")
    setting = find_field(args[0])
    if not setting.is_live:
        raise FieldError(
            setting.name,
            "set in the settings file; it applies at the next start",
            " ".join(args[1:]),
        )
    return Order({setting.name: read_value(setting.name, " ".join(args[1:]), own)})


_READERS: Final = {
    "form": _form,
    "continue": _continue,
    "section": _section,
    "learn": _learn,
    "choose": _choose,
    "forget": _forget,
    "drill": _drill,
    "note": _note,
}
