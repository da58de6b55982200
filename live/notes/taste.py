"""What the player asks of an answer, in trade terms: one frozen set of controls.

Dials run from 0.0 to 1.0 with the middle at 0.5, where the answer does what real answers do and
what the call suggests. Swing starts at 0.0, which is the groove's own; switches are off or on.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Final

from live.theory.errors import FieldError

MIDDLE: Final = 0.5
"""Where a dial asks for nothing."""


@dataclass(frozen=True, slots=True)
class Taste:
    """The controls of an answer.

    Args:
        contrast: 0.0 echoes the call note for note, 1.0 shares nothing with it.
        density: 0.0 sparse, 1.0 busy.
        syncopation: 0.0 straight, 1.0 syncopated.
        leaps: 0.0 moves by step, 1.0 by leap.
        closing: 0.0 ends open, 1.0 ends closed (home, on a long note).
        register: 0.0 low in the allowed range, 1.0 high.
        swing: 0.0 as the groove swings, 1.0 two to one, as far as the tempo leaves room.
        length: 0.0 stab, 1.0 legato.
        walk_up: the line walks up by step to its last note.
        octave_double: low notes sound an octave above as well, where the range allows it.
    Raises: FieldError naming the control and its range.
    """

    contrast: float = MIDDLE
    density: float = MIDDLE
    syncopation: float = MIDDLE
    leaps: float = MIDDLE
    closing: float = MIDDLE
    register: float = MIDDLE
    swing: float = 0.0
    length: float = MIDDLE
    walk_up: bool = False
    octave_double: bool = False

    def __post_init__(self) -> None:
        for name in DIALS:
            got = getattr(self, name)
            if isinstance(got, bool) or not isinstance(got, int | float) or not 0 <= got <= 1:
                raise FieldError(name, "0.0 to 1.0, ends included", got)
        for name in SWITCHES:
            got = getattr(self, name)
            if not isinstance(got, bool):
                raise FieldError(name, "off or on (false or true)", got)


SWITCHES: Final = ("walk_up", "octave_double")
DIALS: Final = tuple(field.name for field in fields(Taste) if field.name not in SWITCHES)
ENDS: Final[dict[str, tuple[str, str]]] = {
    "contrast": ("echo", "contrast"),
    "density": ("sparse", "busy"),
    "syncopation": ("straight", "syncopated"),
    "leaps": ("steps", "leaps"),
    "closing": ("open", "closed"),
    "register": ("low", "high"),
    "swing": ("the groove's", "swung"),
    "length": ("stab", "legato"),
}
"""What a dial asks for at 0.0 and at 1.0, in words for people."""
SWITCH_WORDS: Final = {"walk_up": "walk up to the end", "octave_double": "double an octave above"}
"""What a switch asks for."""
