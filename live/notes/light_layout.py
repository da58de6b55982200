"""Which light of a controller belongs to which key: read from a compact text.

`keys` is a keyboard whose keys light up under their own note numbers. Pads are written out:
`36-99` light up under the numbers that they send, `11-18:C2` are eight pads in order whose lights
are 11 to 18 and that send C2 and the semitones above it, `36:C3` is one pad.
"""

from __future__ import annotations

import re
from typing import Final

from live.theory.errors import FieldError
from live.theory.pitch import parse_note

Layout = tuple[tuple[int, int], ...]
"""(light, key) in order: the note number that lights it, the note that it sends; 0 to 127 each."""

KEYS: Final = "keys"
LAYOUT_RULE: Final = (
    "keys, or pads such as 36-99, 36:C3 or 11-18:C2 21-28:G#2: lights 0 to 127, each once, and"
    " after the colon the note that the first of them sends; the others go up by semitones"
)
EVERY_KEY: Final[Layout] = tuple((note, note) for note in range(128))
_PART: Final = re.compile(r"(\d{1,3})(?:-(\d{1,3}))?(?::(\S+))?")


def parse_layout(text: str) -> Layout:
    """Read a layout; parts are parted by spaces or commas.

    Raises: FieldError with the part that is wrong.
    """
    if text.strip().lower() == KEYS:
        return EVERY_KEY
    keys: dict[int, int] = {}
    for part in text.replace(",", " ").split():
        for light, key in _row(part):
            if light in keys:
                raise FieldError("layout", LAYOUT_RULE, f"{light} twice, in {part}")
            keys[light] = key
    if not keys:
        raise FieldError("layout", LAYOUT_RULE, text)
    return tuple(keys.items())


def _row(part: str) -> list[tuple[int, int]]:
    """The lights of one part with their keys."""
    match = _PART.fullmatch(part)
    if match is None:
        raise FieldError("layout", LAYOUT_RULE, part)
    first = int(match[1])
    last = int(match[2] or first)
    key = parse_note(match[3]) if match[3] else first
    if not first <= last <= 127 or key + last - first > 127:
        raise FieldError("layout", LAYOUT_RULE, part)
    return [(first + index, key + index) for index in range(last - first + 1)]
