"""Zones in the settings file: `[[zone]]` tables, the first that fits a note is used."""

from __future__ import annotations

from typing import Final

from live.daemon.table_reading import (
    CHANNEL,
    CHANNELS,
    NOTE_RANGE,
    Table,
    check_keys,
    read_channel,
    read_channels,
    read_each,
    read_note_range,
    text_of,
)
from live.notes.places import THROUGH
from live.notes.zones import ROLES, Zone
from live.theory.errors import FieldError
from live.theory.snap import find_policy

ZONE_FIELDS: Final[dict[str, str]] = {
    "name": "a text",
    "role": ", ".join(ROLES),
    "input": "an input: keys in, auto, or as in ports.own_inputs or ports.keyboards; none = all",
    "output": "an output: through, or as in ports.own_outputs or ports.outputs",
    "channels": CHANNELS + " but 10, which only a zone of drums takes unless it names it",
    "range": NOTE_RANGE,
    "velocity": "two velocities from 1 to 127, such as [1, 90]",
    "snap": "a snap policy of its own",
    "transpose": "-48 to 48 semitones",
    "out_channel": CHANNEL,
}
"""The keys of a `[[zone]]` table and what they allow."""


def read_zones(tables: object, text: str) -> tuple[Zone, ...]:
    """Zones from parsed TOML; `text` is the file, to say the line. Raises: FieldError."""
    return read_each("zone", tables, text, lambda table, done: _read_zone(table, len(done) + 1))


def _read_zone(table: Table, number: int) -> Zone:
    check_keys("zone", table, ZONE_FIELDS)
    low, high = read_note_range("zone.range", table.get("range", "0:127"))
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
        name=str(table.get("name", f"zone {number}")),
        role=role,
        channels=read_channels("zone.channels", table.get("channels", [])),
        low=low,
        high=high,
        min_velocity=velocity[0],
        max_velocity=velocity[1],
        snap=None if snap is None else find_policy(str(snap)),
        transpose=transpose,
        out_channel=read_channel("zone.out_channel", table["out_channel"])
        if "out_channel" in table
        else None,
        input=text_of("zone.input", table.get("input", "")),
        output=text_of("zone.output", table.get("output", THROUGH)),
    )


def _are_ints(values: object) -> bool:
    return isinstance(values, list) and all(
        isinstance(v, int) and not isinstance(v, bool) for v in values
    )
