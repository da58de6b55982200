"""A sketch's name: what the player is working on."""

from __future__ import annotations

import re
from typing import Final

from live.theory.errors import FieldError

SKETCH: Final = "sketch"
"""The sketch when none is named."""

_NAME: Final = re.compile(r"\w(?:[\w -]{0,58}\w)?")


def check_sketch(name: str) -> str:
    """A name that a sketch may have; FieldError for others."""
    if not _NAME.fullmatch(name):
        raise FieldError("sketch", "1 to 60 letters, digits, spaces, - and _", name)
    return name
