"""The computer keyboard as a piano: the row of A plays the white keys, the row of Q the black.

By place on the keyboard where the system tells it, so that every national layout works.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, field
from typing import Final

BASE_NOTE: Final = 60  # C4 on the A key
LOWEST_BASE, HIGHEST_BASE = 12, 108  # so that all 18 keys stay inside 0..127

_SEMITONES: Final = {
    "A": 0, "W": 1, "S": 2, "E": 3, "D": 4, "F": 5, "T": 6, "G": 7, "Y": 8, "H": 9,
    "U": 10, "J": 11, "K": 12, "O": 13, "L": 14, "P": 15, ";": 16, "'": 17,
}  # fmt: skip
_LOWER, _HIGHER = "Z", "X"

# Places of the keys as the Linux input subsystem numbers them (linux/input-event-codes.h, KEY_A
# = 30 and so on); the set 1 scan codes that Windows reports are the same numbers for these keys.
_CODES: Final = {
    30: "A", 17: "W", 31: "S", 18: "E", 32: "D", 33: "F", 20: "T", 34: "G", 21: "Y", 35: "H",
    22: "U", 36: "J", 37: "K", 24: "O", 38: "L", 25: "P", 39: ";", 40: "'", 44: "Z", 45: "X",
}  # fmt: skip
MOUSE: Final = "mouse"
"""Stands among the letters for the button that holds a key of the picture."""
_OTHER_PLACES: Final = frozenset({16, 19, 23, 46, 47, 48, 49, 50})  # Q R I C V B N M
_X11_OFFSET: Final = 8  # X11 key codes are the input subsystem's plus 8 (X.Org evdev driver)


def place(scan_code: int, character: str, platform: str) -> str:
    """The letter that stands on this key of an English keyboard, "" for a key with no note.

    Args:
        scan_code: as Qt reports it, 0 if unknown.
        character: what the key writes.
        platform: Qt's platform name, for example `xcb`.
    """
    code = scan_code - _X11_OFFSET if platform in ("xcb", "wayland") else scan_code
    if platform in ("xcb", "wayland") or (platform == "windows" and sys.platform == "win32"):
        if code in _CODES or code in _OTHER_PLACES:
            return _CODES.get(code, "")
    letter = character.upper()
    return letter if letter in _SEMITONES or letter in (_LOWER, _HIGHER) else ""


@dataclass
class NoteKeys:
    """Which keys are down and what they play; a note that several play ends with the last.

    Owner: the window's thread.
    """

    base: int = BASE_NOTE
    down: dict[str, int] = field(default_factory=dict)

    def press(self, letter: str) -> int | None:
        """The note to start, None if the key is no note, is down already, or moves the octave."""
        if letter == _LOWER:
            self.base = max(LOWEST_BASE, self.base - 12)
        elif letter == _HIGHER:
            self.base = min(HIGHEST_BASE, self.base + 12)
        if letter not in _SEMITONES or letter in self.down:
            return None
        self.down[letter] = self.base + _SEMITONES[letter]
        return self.down[letter]

    def hold(self, note: int) -> None:
        """The mouse starts a note."""
        self.down[MOUSE] = note

    def release(self, letter: str) -> int | None:
        """The note to end: the one this key (or MOUSE) started, whatever the octave is now.

        None if it started none, or if another still plays it.
        """
        note = self.down.pop(letter, None)
        return None if note in self.down.values() else note

    def release_all(self) -> tuple[int, ...]:
        """Every note to end, each once, when the window loses the keyboard."""
        notes = tuple(dict.fromkeys(self.down.values()))
        self.down.clear()
        return notes
