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

from live.answer.voice import Cell, Place, Voice
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
    """The cells that may stand at a place: the call's own first, then the usual ones that fit."""
    low_end = place.tick == 0
    cells = dict.fromkeys(voice.cells)
    longest = voice.beat_ticks
    cells.update(dict.fromkeys(c for c in USUAL if not c or _fits(c, longest)))
    return [c for c in cells if (not c or c[-1] < place.ticks) and not (low_end and c[:1] != (0,))]


def _fits(cell: Cell, ticks: int) -> bool:
    return cell[-1] < ticks and (ticks > 960 or cell[-1] < 960)


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
    frame, counts = voice.scene.frame, Counter[str]()
    here = {place.tick + tick for tick in cell}
    for tick in range(place.tick, place.tick + place.ticks, TICKS_PER_SIXTEENTH):
        if tick in frame.kicks:
            counts["on a kick" if tick in here else "misses a kick"] += 1
        if tick in frame.snares and tick in here:
            counts["on a snare"] += 1
    return [(name, float(count)) for name, count in counts.items()]


class Run:
    """A rhythm as it grows: whether it has kept to the call, and this bar to the one before."""

    def __init__(self, voice: Voice) -> None:
        self._voice = voice
        self.chosen: list[Cell] = []
        self._as_called = self._as_other = self._as_before = True

    def features(self, cell: Cell) -> list[str]:
        """What can be said of the next cell after the ones before it."""
        voice, number = self._voice, len(self.chosen)
        place = voice.places[number]
        found: list[str] = []
        if number and self.chosen[-1] == cell:
            found.append("again")
        if number and self._as_called and cell == voice.called_cell(place.bar, place.beat):
            found.append("goes on as called")
        if place.beat and self._as_other and cell == voice.called_cell(place.bar + 1, place.beat):
            found.append("goes on as the other bar")
        if place.bar and cell == self.chosen[number - voice.beats_a_bar]:
            found.append("as the bar before")
            if place.beat and self._as_before:
                found.append("goes on as the bar before")
        return found

    def add(self, cell: Cell) -> None:
        """The next cell is this one."""
        voice, number = self._voice, len(self.chosen)
        place = voice.places[number]
        first = place.beat == 0
        self._as_called = self._as_called and cell == voice.called_cell(place.bar, place.beat)
        other = cell == voice.called_cell(place.bar + 1, place.beat)
        self._as_other = (first or self._as_other) and other
        mate = self.chosen[number - voice.beats_a_bar] if place.bar else None
        self._as_before = (first or self._as_before) and cell == mate
        self.chosen.append(cell)


class CellDrawer:
    """Draws rhythms for one call; the fixed part of each chance is worked out once.

    Args:
        voice: the call's.
        weights: by feature.
    """

    def __init__(self, voice: Voice, weights: Weights) -> None:
        self._voice = voice
        self._weights = weights
        self._columns = [
            [
                (cell, _sum(weights, fixed_features(voice, place, cell)))
                for cell in options(voice, place)
            ]
            for place in voice.places
        ]

    def draw(self, lean: Lean, rng: Random) -> list[Cell]:
        """One cell for each beat of the answer."""
        voice, get = self._voice, self._weights.get
        run = Run(voice)
        for place, column in zip(voice.places, self._columns, strict=True):
            own = voice.called_cell(place.bar, place.beat)
            chances = []
            for cell, fixed in column:
                total = fixed + lean.notes * len(cell) + lean.off * _off(cell)
                total += lean.called * (cell == own)
                for name in run.features(cell):
                    total += get(name, 0.0)
                chances.append(exp(min(50.0, total)))
            run.add(rng.choices(column, chances)[0][0])
        return run.chosen


@lru_cache(maxsize=1024)
def _off(cell: Cell) -> float:
    """How far a cell leaves the beat: notes off it, and one more if nothing begins on it."""
    return sum(tick > 0 for tick in cell) / max(1, len(cell)) + (cell[:1] != (0,))


def _sum(weights: Weights, features: Features) -> float:
    return sum(weights.get(name, 0.0) * value for name, value in features)
