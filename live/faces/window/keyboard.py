"""Shape of the keyboard picture: which octaves it shows and where each key lies. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

WHITE_PITCH_CLASSES: Final = (0, 2, 4, 5, 7, 9, 11)
USUAL_LOW: Final = 24  # C1: five octaves from here hold a bass below and a melody above
_BLACK_WIDTH: Final = 0.68
BLACK_HEIGHT: Final = 0.58
_LOWEST, _HIGHEST = 0, 120  # the C's that may begin an octave


@dataclass(frozen=True, slots=True)
class KeyBox:
    """One key: MIDI note, and its place in pixels from the picture's top left corner."""

    note: int
    x: float
    width: float
    height: float
    black: bool

    def holds(self, x: float, y: float) -> bool:
        """True if the point lies on the key's box."""
        return self.x <= x < self.x + self.width and 0 <= y < self.height


def is_black(note: int) -> bool:
    """True for the five raised keys of each octave."""
    return note % 12 not in WHITE_PITCH_CLASSES


def octaves_for(width: float, least_key: float) -> int:
    """Whole octaves, 2 to 8, that fit into `width` with white keys of `least_key` or wider."""
    return max(2, min(8, int((width / least_key - 1) // 7)))


def shift(low: int, octaves: int, notes: Iterable[int]) -> int:
    """The lowest C to show: `low` moved by as few octaves as it takes to show `notes`.

    Notes too far apart to be shown together: the highest wins. `low` stays inside 0..127's C's.
    """
    last = low + 12 * octaves
    wanted = [note for note in notes if 0 <= note <= 127]
    if not wanted:
        return low
    while min(wanted) < low and low > _LOWEST:
        low, last = low - 12, last - 12
    while max(wanted) > last and low < _HIGHEST:
        low, last = low + 12, last + 12
    return low


def keys(low: int, octaves: int, width: float, height: float) -> tuple[KeyBox, ...]:
    """All keys from the C `low` to the C `octaves` above, white ones first.

    Args: low: MIDI note of a C; width, height: of the picture in pixels.
    """
    notes = range(low, min(128, low + 12 * octaves + 1))
    whites = [note for note in notes if not is_black(note)]
    step = width / (7 * octaves + 1)
    placed = [
        KeyBox(note, index * step, step, height, black=False) for index, note in enumerate(whites)
    ]
    left = {key.note: key.x for key in placed}
    wide = step * _BLACK_WIDTH
    placed += [
        KeyBox(note, left[note - 1] + step - wide / 2, wide, height * BLACK_HEIGHT, black=True)
        for note in notes
        if is_black(note)
    ]
    return tuple(placed)


def key_at(boxes: tuple[KeyBox, ...], x: float, y: float) -> int | None:
    """MIDI note of the key at a point, None beside the keys; black keys lie on top."""
    for box in reversed(boxes):
        if box.holds(x, y):
            return box.note
    return None
