"""Rhythm in the call's own voice: one cell a beat, drawn from the call's cells and usual ones.

A cell's chance is a logit: the sum of the weights (`voice_table`) of the features it has.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from functools import lru_cache
from math import exp, log
from random import Random
from typing import Final, NamedTuple

from live.answer.draws import one_of
from live.answer.voice import Cell, Place, Voice
from live.answer.voice_table import BASS_CELLS, TUNES_CELLS
from live.clock.units import TICKS_PER_SIXTEENTH

Weights = Mapping[str, float]
Features = list[tuple[str, float]]

USUAL: Final[tuple[Cell, ...]] = (
    (0,), (0, 480), (0, 240, 480, 720), (0, 480, 720), (0, 240, 480), (0, 720), (0, 240), (),
    (480,), (0, 240, 720), (240,), (720,), (480, 720), (0, 480, 960), (0, 960), (0, 720, 960),
    (0, 480, 720, 960), (0, 480, 960, 1200), (0, 240, 480, 960), (480, 960),
)  # fmt: skip
"""Cells any answer may use, in ticks; those of simple beats end before 960."""


class Lean(NamedTuple):
    """What the controls add to the chance of a cell, in log odds.

    Args:
        notes: for each note.
        off: for each note off the beat, and for a beat that nothing begins on.
        called: for the call's own cell.
    """

    notes: float = 0.0
    off: float = 0.0
    called: float = 0.0


@lru_cache(maxsize=1024)
def name_of(cell: Cell) -> str:
    """A cell in sixteenths, such as "0 2 3"; "-" where nothing begins."""
    return " ".join(f"{tick / TICKS_PER_SIXTEENTH:g}" for tick in cell) or "-"


def options(voice: Voice, place: Place) -> list[Cell]:
    """The cells that may stand at a place: the call's own first, then the usual ones.

    Only those that begin on spots of the frame within the beat; the answer's first begins at once.
    """
    spots = voice.scene.spots
    return [
        cell
        for cell in dict.fromkeys((*voice.cells, *USUAL))
        if all(tick < place.ticks and place.tick + tick in spots for tick in cell)
        and (place.tick or cell[:1] == (0,))
    ]


def fixed_features(voice: Voice, place: Place, cell: Cell) -> Features:
    """What can be said of a cell at a place whatever came before it."""
    last = place is voice.places[-1]
    own = voice.called_cell(place.bar, place.beat)
    known = name_of(cell) if cell in _KNOWN else "other"
    beat = "compound" if voice.beat_ticks > 960 else "simple"
    found: Features = [(f"{beat} {known}", 1.0)]
    if last:
        found.append((f"{beat} end {known}", 1.0))
    elif place is voice.places[-2]:
        found.append(("notes before the end", float(len(cell))))
    if cell == own:
        found.append(("as called", 1.0))
    if cell == voice.called_cell(place.bar + 1, place.beat):
        found.append(("as the other bar", 1.0))
    found.append(("common in the call", log((voice.cells[cell] + 0.3) / (len(voice.called) + 3))))
    found.append(("busier or emptier", abs(len(cell) - voice.cell_notes)))
    if cell[:1] != (0,):
        found.append(("leaves the one" if place.beat == 0 else "leaves the beat", 1.0))
    return found + _drum_features(voice, place, cell)


_KNOWN: Final = frozenset(USUAL)


def _drum_features(voice: Voice, place: Place, cell: Cell) -> Features:
    counts = Counter[str]()
    for tick, kick, snare in voice.strokes(place):
        if kick:
            counts["on a kick" if tick in cell else "misses a kick"] += 1
        if snare and tick in cell:
            counts["on a snare"] += 1
    return [(name, float(count)) for name, count in counts.items()]


class Run:
    """A rhythm as it grows: whether it has kept to the call, and this bar to the one before."""

    def __init__(self, voice: Voice) -> None:
        self._voice = voice
        self.chosen: list[Cell] = []
        self._as_called = self._as_other = self._as_before = True

    def rules(self) -> list[tuple[Cell, str]]:
        """What the next cell may be, and what that is called."""
        voice, number = self._voice, len(self.chosen)
        place = voice.places[number]
        found: list[tuple[Cell, str]] = []
        if number:
            found.append((self.chosen[-1], "again"))
            if self._as_called:
                found.append((voice.own[number], "goes on as called"))
        if place.beat and self._as_other:
            found.append((voice.others[number], "goes on as the other bar"))
        if place.bar:
            mate = self.chosen[number - voice.beats_a_bar]
            found.append((mate, "as the bar before"))
            if place.beat and self._as_before:
                found.append((mate, "goes on as the bar before"))
        return found

    def add(self, cell: Cell) -> None:
        """The next cell is this one."""
        voice, number = self._voice, len(self.chosen)
        place = voice.places[number]
        first = place.beat == 0
        self._as_called = self._as_called and cell == voice.own[number]
        self._as_other = (first or self._as_other) and cell == voice.others[number]
        mate = self.chosen[number - voice.beats_a_bar] if place.bar else None
        self._as_before = (first or self._as_before) and cell == mate
        self.chosen.append(cell)


class _Column(NamedTuple):
    """The cells that may stand at a place, the number of each, and their chances (not scaled)."""

    cells: list[Cell]
    numbers: dict[Cell, int]
    chances: list[float]


class CellDrawer:
    """Draws rhythms for one call; the fixed part of each chance is worked out once.

    Args:
        voice: the call's.
    """

    def __init__(self, voice: Voice) -> None:
        self._voice = voice
        self._weights = weights = BASS_CELLS if voice.is_bass else TUNES_CELLS
        self._factors = {name: exp(weight) for name, weight in weights.items()}
        self._columns = [
            [(cell, _sum(weights, fixed_features(voice, place, cell))) for cell in cells]
            for place, cells in ((place, options(voice, place)) for place in voice.places)
        ]
        self._leant: dict[Lean, list[_Column]] = {}

    def draw(self, lean: Lean, rng: Random) -> list[Cell]:
        """One cell for each beat of the answer."""
        if lean not in self._leant:
            self._leant[lean] = self._lean(lean)
        run, factor = Run(self._voice), self._factors.get
        for cells, number_of, fixed in self._leant[lean]:
            chances = fixed.copy()
            for cell, name in run.rules():
                number = number_of.get(cell)
                if number is not None:
                    chances[number] *= factor(name, 1.0)
            run.add(one_of(cells, chances, rng))
        return run.chosen

    def _lean(self, lean: Lean) -> list[_Column]:
        """The cells of each place with their chances before what flows from the others."""
        found = []
        for place, column in zip(self._voice.places, self._columns, strict=True):
            own = self._voice.called_cell(place.bar, place.beat)
            totals = [
                fixed + lean.notes * len(c) + lean.off * _off(c) + lean.called * (c == own)
                for c, fixed in column
            ]
            top = max(totals)
            cells = [cell for cell, _ in column]
            numbers = {cell: number for number, cell in enumerate(cells)}
            found.append(_Column(cells, numbers, [exp(t - top) for t in totals]))
        return found


@lru_cache(maxsize=1024)
def _off(cell: Cell) -> float:
    """How far a cell leaves the beat: notes off it, and one more if nothing begins on it."""
    return sum(tick > 0 for tick in cell) / max(1, len(cell)) + (cell[:1] != (0,))


def _sum(weights: Weights, features: Features) -> float:
    get = weights.get
    return sum([get(name, 0.0) * value for name, value in features])
