"""Scales in the settings file: `[[scale]]` tables, the player's own."""

from __future__ import annotations

from typing import Final

from live.daemon.table_reading import Table, check_keys, read_each
from live.theory.errors import FieldError
from live.theory.own_scales import NAME_RULE, STEPS_RULE, find_twice, own_scale
from live.theory.scales import Scale

SCALE_FIELDS: Final[dict[str, str]] = {
    "name": NAME_RULE,
    "steps": f"a list of {STEPS_RULE}",
}
"""The keys of a `[[scale]]` table and what they allow; both are needed."""


def read_scales(tables: object, text: str) -> tuple[Scale, ...]:
    """Scales from parsed TOML; `text` is the file, to say the line. Raises: FieldError."""
    return read_each("scale", tables, text, _read_scale)


def _read_scale(table: Table, before: list[Scale]) -> Scale:
    check_keys("scale", table, SCALE_FIELDS)
    steps = table.get("steps")
    if not isinstance(steps, list):
        raise FieldError("scale.steps", SCALE_FIELDS["steps"], steps)
    try:
        scale = own_scale(table.get("name"), steps)
    except FieldError as error:
        field = error.field.replace("scale ", "scale.")
        raise FieldError(field, error.allowed, error.got) from None
    if find_twice([*before, scale]) is not None:
        raise FieldError("scale.name", "a name that no other scale has", table["name"])
    return scale
