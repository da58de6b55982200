"""Tables that may stand several times in the settings file, such as `[[zone]]`."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any, Final, TypeVar

from live.theory.errors import FieldError
from live.theory.pitch import parse_note

T = TypeVar("T")
Table = Mapping[str, Any]


def read_each(
    name: str, tables: object, text: str, read: Callable[[Table, list[T]], T]
) -> tuple[T, ...]:
    """Read every table of a name.

    Args:
        name: `zone` for `[[zone]]`.
        tables: what the TOML parser made of them.
        text: the file, to say the line.
        read: reads one; it also gets those read before. Raises FieldError.
    Raises: FieldError with the line of the table.
    """
    if not isinstance(tables, list) or not all(isinstance(table, dict) for table in tables):
        raise FieldError(name, f"tables written as [[{name}]]", tables)
    header = re.compile(rf"\s*\[\[\s*{name}\s*\]\]")
    lines = [number for number, line in enumerate(text.splitlines(), 1) if header.match(line)]
    done: list[T] = []
    for index, table in enumerate(tables):
        where = f"{name} at line {lines[index]}" if index < len(lines) else f"{name} {index + 1}"
        try:
            done.append(read(table, done))
        except FieldError as error:
            raise FieldError(error.field, error.allowed, error.got, where) from None
    return tuple(done)


def check_keys(name: str, table: Table, fields: Mapping[str, str]) -> None:
    """FieldError if a table has a key that is not among its fields."""
    for key, value in table.items():
        if key not in fields:
            raise FieldError(f"{name}.{key}", "one of " + ", ".join(fields), value)


CHANNEL: Final = "a MIDI channel from 1 to 16"
CHANNELS: Final = "a list of MIDI channels 1 to 16, empty = all"
NOTE_RANGE: Final = "two notes, such as C2:B3"


def read_channel(name: str, value: object) -> int:
    """A channel from 0, written from 1; FieldError."""
    return whole(name, value, CHANNEL, 1, 16) - 1


def read_channels(name: str, value: object) -> frozenset[int]:
    """Channels from 0, written from 1; FieldError."""
    if not isinstance(value, list):
        raise FieldError(name, CHANNELS, value)
    return frozenset(read_channel(name, one) for one in value)


def read_note_range(name: str, value: object) -> tuple[int, int]:
    """Two notes such as `C2:B3`, as they stand; FieldError."""
    low, colon, high = str(value).partition(":")
    if not colon:
        raise FieldError(name, NOTE_RANGE, value)
    return parse_note(low), parse_note(high)


def whole(name: str, value: object, allowed: str, low: int, high: int) -> int:
    """A whole number from low to high, both included; FieldError if it is none."""
    if not isinstance(value, int) or isinstance(value, bool) or not low <= value <= high:
        raise FieldError(name, allowed, value)
    return value


def text_of(name: str, value: object) -> str:
    """A text; FieldError if it is none."""
    if not isinstance(value, str):
        raise FieldError(name, "a text", value)
    return value
