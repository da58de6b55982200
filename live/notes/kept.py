"""A phrase that the player kept, as plain data and back."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

from live.clock.metre import Metre, parse_metre
from live.notes.phrase import PhraseNote
from live.theory.errors import FieldError
from live.theory.keys import Key, parse_key

MOST_NOTES: Final = 512
"""Notes of one phrase: 16 bars of sixteenths are 256."""
MOST_TICKS: Final = 1 << 20
"""No onset or length of a kept phrase is beyond this (1,092 quarters)."""
MOST_TEXT: Final = 200
_ID_DIGITS: Final = 12


@dataclass(frozen=True, slots=True)
class KeptPhrase:
    """One kept phrase.

    Args:
        notes: from the phrase's first bar line, ordered by onset, then pitch.
        key: the key it was played in.
        metre: its time signature.
    """

    notes: tuple[PhraseNote, ...]
    key: Key
    metre: Metre

    @property
    def id(self) -> str:
        """The same for the same phrase, wherever and whenever it was kept; velocities aside."""
        played = [[n.onset_ticks, n.length_ticks, n.pitch] for n in self.notes]
        text = json.dumps([self.key.name, str(self.metre), played])
        return hashlib.sha256(text.encode("utf-8")).hexdigest()[:_ID_DIGITS]

    def to_data(self) -> dict[str, Any]:
        """As plain data: texts, numbers and lists."""
        notes = [[n.onset_ticks, n.length_ticks, n.pitch, n.velocity] for n in self.notes]
        return {"key": self.key.name, "metre": str(self.metre), "notes": notes}


def keep(notes: Iterable[PhraseNote], key: Key, metre: Metre) -> KeptPhrase:
    """A phrase as it is kept, its notes in order.

    Raises: FieldError for no notes, too many, or one that cannot be.
    """
    found = list(notes)
    if not 1 <= len(found) <= MOST_NOTES:
        raise FieldError("phrase", f"1 to {MOST_NOTES} notes", f"{len(found)} notes")
    for note in found:
        _check("onset", note.onset_ticks, 0, MOST_TICKS)
        _check("length", note.length_ticks, 1, MOST_TICKS)
        _check("pitch", note.pitch, 0, 127)
        _check("velocity", note.velocity, 1, 127)
    found.sort(key=lambda n: (n.onset_ticks, n.pitch, n.length_ticks, n.velocity))
    return KeptPhrase(tuple(found), key, metre)


def kept_from_data(data: Any) -> KeptPhrase:  # noqa: ANN401 - whatever a file held
    """Read what `KeptPhrase.to_data` gave.

    Raises: FieldError naming the part that cannot be read.
    """
    if not isinstance(data, dict) or set(data) != {"key", "metre", "notes"}:
        raise FieldError("phrase", "key, metre and notes", _short(data))
    for name in ("key", "metre"):
        if not isinstance(data[name], str) or len(data[name]) > MOST_TEXT:
            raise FieldError(f"phrase {name}", "a text", _short(data[name]))
    rows = data["notes"]
    if not isinstance(rows, list):
        raise FieldError("phrase notes", "a list", _short(rows))
    for row in rows:
        if not isinstance(row, list) or len(row) != 4:
            raise FieldError("note", "onset, length, pitch, velocity", _short(row))
    return keep(
        [PhraseNote(*row) for row in rows], parse_key(data["key"]), parse_metre(data["metre"])
    )


def _check(name: str, value: object, low: int, high: int) -> None:
    if type(value) is not int or not low <= value <= high:
        raise FieldError(f"note {name}", f"a whole number, {low} to {high}", _short(value))


def _short(value: object) -> str:
    return repr(value)[:MOST_TEXT]
