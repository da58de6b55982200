"""Values from the command line: checked once, at the door. Standard library and theory only.

The settings are read only when a key names a scale that theory does not know.
"""

from __future__ import annotations

import math

from live.theory.errors import FieldError
from live.theory.keys import Key, parse_key


def whole_number(field: str, text: str, low: int, high: int) -> int:
    """Read a whole number from `low` to `high`, both inclusive.

    Raises: FieldError.
    """
    try:
        value = int(text)
    except ValueError:
        value = None
    if value is None or not low <= value <= high:
        raise FieldError(field, f"a whole number from {low} to {high}", text)
    return value


def seed_number(text: str) -> int:
    """Read a seed: any whole number of up to 64 bits.

    Raises: FieldError.
    """
    return whole_number("seed", text, -(2**63), 2**63 - 1)


def seconds(field: str, text: str, low: float, high: float) -> float:
    """Read a length in seconds from `low` to `high`, both inclusive.

    Raises: FieldError.
    """
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not low <= value <= high:  # not-a-number fails here too
        raise FieldError(field, f"seconds from {low:g} to {high:g}", text)
    return value


def fraction(field: str, text: str) -> float:
    """Read a number from 0 to 1, both inclusive.

    Raises: FieldError.
    """
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not 0 <= value <= 1:  # not-a-number fails here too
        raise FieldError(field, "a number from 0 to 1", text)
    return value


def read_key(text: str) -> Key:
    """Read a key; its scale may be one of the player's own, from the player's settings file.

    Raises: FieldError.
    """
    try:
        return parse_key(text)
    except FieldError as unknown:
        from live.daemon.settings import load

        try:
            own = load().scales
        except FieldError:
            raise unknown from None  # broken settings are not what was asked about
        return parse_key(text, own)
