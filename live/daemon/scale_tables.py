"""Scales in the settings file: `[[scale]]` tables, the player's own."""

from __future__ import annotations

import re
from typing import Final

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
    if not isinstance(tables, list) or not all(isinstance(table, dict) for table in tables):
        raise FieldError("scale", "tables written as [[scale]]", tables)
    lines = [
        number
        for number, line in enumerate(text.splitlines(), 1)
        if re.match(r"\s*\[\[\s*scale\s*\]\]", line)
    ]
    scales: list[Scale] = []
    for index, table in enumerate(tables):
        where = f"scale at line {lines[index]}" if index < len(lines) else f"scale {index + 1}"
        try:
            scales.append(_read_scale(table))
            if find_twice(scales) is not None:
                raise FieldError("scale.name", "a name that no other scale has", table["name"])
        except FieldError as error:
            field = error.field.replace("scale ", "scale.")
            raise FieldError(field, error.allowed, error.got, where) from None
    return tuple(scales)


def _read_scale(table: dict[str, object]) -> Scale:
    for name, value in table.items():
        if name not in SCALE_FIELDS:
            raise FieldError("scale." + name, "one of " + ", ".join(SCALE_FIELDS), value)
    steps = table.get("steps")
    if not isinstance(steps, list):
        raise FieldError("scale.steps", SCALE_FIELDS["steps"], steps)
    return own_scale(table.get("name"), steps)
