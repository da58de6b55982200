"""Viewpoints: a phrase as four sequences of small whole numbers that survive a change of key.

Degree: what the note is in its key. Move: direction and size of the interval. Rhythm: place within
the beat and step since the onset before. Length: from stab to long. Multiple viewpoints as in
Conklin & Witten 1995 (Journal of New Music Research 24:51-73); these four are our own choice.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise
from typing import Final, NamedTuple

from live.clock.metre import Metre
from live.clock.units import TICKS_PER_BEAT
from live.theory.degrees import degree_of
from live.theory.keys import Key

OCTAVE: Final = 12

_ALTERS: Final = 5  # a degree is named lowered or raised by up to two semitones
_SPANS: Final = (0, 1, 1, 2, 2, 3, 3, 3, 4, 4, 4, 4, 5)
"""Size by semitones: repeat, step, third, fourth or fifth, sixth or seventh, octave and more."""
_WIDEST: Final = 127

CELL: Final = TICKS_PER_BEAT // 12
"""Sixteenths and eighth-note triplets both fall on cells."""
_CELLS: Final = TICKS_PER_BEAT // CELL
_GRID: Final = (0, 3, 4, 6, 8, 9, 12)
"""Cells of a quarter note on which notes are heard to start: sixteenths and triplet eighths."""
_STEPS: Final = (0, 3, 4, 6, 8, 9, 12, 18, 24, 36, 48)
"""Cells from onset to onset that are told apart; others count as the nearest."""
_PLACES: Final = 8
_LENGTHS: Final = (4.25, 8.5, 17.0, 34.0)
"""Limits in cells half way (as ratios) between 16th, eighth, quarter, half and longer."""

SIZES: Final = (7 * _ALTERS, 2 * _SPANS[-1] + 1, _PLACES * len(_STEPS), len(_LENGTHS) + 1)
"""Symbols of each viewpoint, in the order of View."""


class View(NamedTuple):
    """A phrase from four sides: symbols below the SIZES, one a note (moves: one fewer)."""

    degrees: list[int]
    moves: list[int]
    rhythms: list[int]
    lengths: list[int]


class Lens:
    """Sees phrases in one key and metre.

    Args:
        key: the key the phrases are in.
        metre: their time signature.
    Thread: any; read only. Made once for many phrases, since keys are slow to look up.
    """

    def __init__(self, key: Key, metre: Metre) -> None:
        self._degrees = _degrees(key)
        self._places = _places(metre)

    def view(self, onsets: Sequence[int], lengths: Sequence[int], pitches: Sequence[int]) -> View:
        """See a phrase from its four sides.

        Args:
            onsets: ticks from the first bar line, 0 or more, ascending; equal ones are a chord.
            lengths: ticks, 1 or more, as many as onsets; empty where they are not known yet.
            pitches: MIDI notes, as many as onsets.
        """
        degrees, places, bar = self._degrees, self._places, len(self._places)
        cells = grid_cells(onsets)
        return View(
            [degrees[pitch % OCTAVE] for pitch in pitches],
            [_MOVE_OF[after - before] for before, after in pairwise(pitches)],
            [
                places[cell % bar] + _STEP_OF[min(cell - before, _LAST_STEP)]
                for before, cell in pairwise((0, *cells))
            ],
            [_LENGTH_OF[min(length // CELL, _LONG)] for length in lengths],
        )


def grid_cells(onsets: Sequence[int]) -> list[int]:
    """Onsets on the grid of sixteenths and triplet eighths, in cells of CELL ticks."""
    return [tick // TICKS_PER_BEAT * _CELLS + _ON_GRID[tick % TICKS_PER_BEAT] for tick in onsets]


@lru_cache(maxsize=256)
def _degrees(key: Key) -> tuple[int, ...]:
    """The degree's symbol by pitch class: its number 1 to 7, and how its name alters it."""
    found = [degree_of(pitch_class, key) for pitch_class in range(OCTAVE)]
    return tuple(_ALTERS * (d.number - 1) + d.name_alter + _ALTERS // 2 for d in found)


@lru_cache(maxsize=64)
def _places(metre: Metre) -> tuple[int, ...]:
    """First rhythm symbol of each cell of a bar, by its place in the felt beat."""
    beat = metre.beat_ticks * 3 if metre.compound else max(metre.beat_ticks, TICKS_PER_BEAT)
    bar = metre.bar_ticks // CELL
    return tuple(len(_STEPS) * _place(cell % (beat // CELL)) for cell in range(bar))


def _place(cell: int) -> int:
    """The grid's places of a quarter note 0 to 5, and those of what is longer 6 and 7."""
    if cell < _CELLS:
        return max(place for place, at in enumerate(_GRID) if at <= cell)
    return _PLACES - 2 + (cell > _CELLS)


def _nearest(value: int, among: Sequence[int]) -> int:
    return min(among, key=lambda one: abs(one - value))


def _move(semitones: int) -> int:
    size = _SPANS[min(abs(semitones), OCTAVE)]
    return size + _SPANS[-1] if semitones < 0 else size


_ON_GRID: Final = tuple(
    _nearest(tick, [cell * CELL for cell in _GRID]) // CELL for tick in range(TICKS_PER_BEAT)
)
_STEP_OF: Final = tuple(_STEPS.index(_nearest(cells, _STEPS)) for cells in range(_STEPS[-1] + 1))
_LAST_STEP: Final = _STEPS[-1]
_MOVE_OF: Final = tuple(_move(s) for s in (*range(_WIDEST + 1), *range(-_WIDEST, 0)))
"""By semitones; what is below 0 counts from the end."""
_LONG: Final = int(_LENGTHS[-1]) + 1
_LENGTH_OF: Final = tuple(sum(cells >= limit for limit in _LENGTHS) for cells in range(_LONG + 1))
