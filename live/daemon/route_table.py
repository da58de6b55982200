"""Routes in the settings file: `[[route]]` tables, each copies an input to an output."""

from __future__ import annotations

from typing import Final, cast

from live.daemon.table_reading import (
    CHANNEL,
    CHANNELS,
    Table,
    check_keys,
    read_channel,
    read_channels,
    read_each,
    text_of,
)
from live.notes.routes import PARTS, Part, Route
from live.theory.errors import FieldError

ROUTE_FIELDS: Final[dict[str, str]] = {
    "input": "an input: keys in, return, auto, or as in ports.own_inputs or ports.keyboards",
    "output": "an output: through, or as in ports.own_outputs or ports.outputs",
    "channels": CHANNELS,
    "out_channel": CHANNEL,
    "only": "a list of " + ", ".join(PARTS) + "; empty = everything",
}
"""The keys of a `[[route]]` table and what they allow."""


def read_routes(tables: object, text: str) -> tuple[Route, ...]:
    """Routes from parsed TOML; `text` is the file, to say the line. Raises: FieldError."""
    return read_each("route", tables, text, lambda table, _: _read_route(table))


def _read_route(table: Table) -> Route:
    check_keys("route", table, ROUTE_FIELDS)
    for name in ("input", "output"):
        if name not in table:
            raise FieldError(f"route.{name}", ROUTE_FIELDS[name], "nothing")
    return Route(
        input=text_of("route.input", table["input"]),
        output=text_of("route.output", table["output"]),
        channels=read_channels("route.channels", table.get("channels", [])),
        out_channel=read_channel("route.out_channel", table["out_channel"])
        if "out_channel" in table
        else None,
        only=_read_only(table.get("only", [])),
    )


def _read_only(value: object) -> frozenset[Part]:
    if not isinstance(value, list) or not all(part in PARTS for part in value):
        raise FieldError("route.only", ROUTE_FIELDS["only"], value)
    return frozenset(cast("list[Part]", value))
