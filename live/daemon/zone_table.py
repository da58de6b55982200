"""Zones in the settings file: `[[zone]]` tables, the first that fits a note is used."""

from __future__ import annotations

import re
from typing import Any, Final

from live.notes.zones import ROLES, Zone
from live.theory.errors import FieldError
from live.theory.pitch import parse_note
from live.theory.snap import find_policy

ZONE_FIELDS: Final[dict[str, str]] = {
    "name": "a text",
    "role": ", ".join(ROLES),
    "channels": "a list of MIDI channels 1 to 16, empty = all",
    "range": "two notes, such as C2:B3",
    "velocity": "two velocities from 1 to 127, such as [1, 90]",
    "snap": "a snap policy of its own",
    "transpose": "-48 to 48 semitones",
    "out_channel": "MIDI channel 1 to 16",
}
"""The keys of a `[[zone]]` table and what they allow."""


def read_zones(tables: object, text: str) -> tuple[Zone, ...]:
    """Zones from parsed TOML; `text` is the file, to say the line. Raises: FieldError."""
    if not isinstance(tables, list):
        raise FieldError("zone", "tables written as [[zone]]", tables)
    lines = [
        number
        for number, line in enumerate(text.splitlines(), 1)
        if re.match(r"\s*\[\[\s*zone\s*\]\]", line)
    ]
    zones = []
    for index, table in enumerate(tables):
        where = f"zone at line {lines[index]}" if index < len(lines) else f"zone {index + 1}"
        try:
            zones.append(_read_zone(table))
        except FieldError as error:
            raise FieldError(error.field, error.allowed, error.got, where) from None
    return tuple(zones)


def _read_zone(table: dict[str, Any]) -> Zone:
    for name, value in table.items():
        if name not in ZONE_FIELDS:
            raise FieldError("zone." + name, "one of " + ", ".join(ZONE_FIELDS), value)
    low, high = _range(table.get("range", "0:127"))
    velocity = table.get("velocity", [1, 127])
    if not _are_ints(velocity) or len(velocity) != 2:
        raise FieldError("zone.velocity", ZONE_FIELDS["velocity"], velocity)
    role = table.get("role", "call")
    if role not in ROLES:
        raise FieldError("zone.role", ZONE_FIELDS["role"], role)
    transpose = table.get("transpose", 0)
    if not _are_ints([transpose]):
        raise FieldError("zone.transpose", ZONE_FIELDS["transpose"], transpose)
    snap = table.get("snap")
    return Zone(
        name=str(table.get("name", "zone")),
        role=role,
        channels=frozenset(_channel("channels", c) for c in _list(table.get("channels", []))),
        low=low,
        high=high,
        min_velocity=velocity[0],
        max_velocity=velocity[1],
        snap=None if snap is None else find_policy(str(snap)),
        transpose=transpose,
        out_channel=_channel("out_channel", table["out_channel"])
        if "out_channel" in table
        else None,
    )


def _range(value: object) -> tuple[int, int]:
    low, colon, high = str(value).partition(":")
    if not colon:
        raise FieldError("zone.range", ZONE_FIELDS["range"], value)
    return parse_note(low), parse_note(high)


def _list(value: object) -> list[object]:
    if not isinstance(value, list):
        raise FieldError("zone.channels", ZONE_FIELDS["channels"], value)
    return value


def _channel(name: str, value: object) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or not 1 <= value <= 16:
        raise FieldError("zone." + name, ZONE_FIELDS[name], value)
    return value - 1


def _are_ints(values: object) -> bool:
    return isinstance(values, list) and all(
        isinstance(v, int) and not isinstance(v, bool) for v in values
    )
