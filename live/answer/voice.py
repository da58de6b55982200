"""The call's own voice: what an answer that lies where the call lies takes from it.

A bass that answers a bass, or a line that answers a line, keeps the call's density, its rhythm
cells, its intervals and its register. `Voice` holds these; `cells` and `melody` draw from them.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from itertools import pairwise
from math import log
from statistics import fmean
from typing import Final, NamedTuple

from live.answer.scene import Scene
from live.clock.units import TICKS_PER_BEAT, TICKS_PER_SIXTEENTH

OCTAVE: Final = 12
Cell = tuple[int, ...]
"""Onsets within one beat, in ticks from its beginning; empty where nothing begins."""

_DEGREES: Final = (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)
"""Scale steps above the tonic by semitones; what lies between belongs to the step it alters."""


class Place(NamedTuple):
    """Where a beat stands: the bar, its number within the bar, its first tick and its length."""

    bar: int
    beat: int
    tick: int
    ticks: int


class Voice:
    """What the call's line does, in the terms an answer is drawn in. Read only.

    Args:
        scene: with a call that has notes.
    """

    def __init__(self, scene: Scene) -> None:
        brief, heard = scene.brief, scene.heard
        self.scene = scene
        self.bar_ticks = brief.metre.bar_ticks
        self.beat_ticks = 3 * TICKS_PER_BEAT // 2 if brief.metre.compound else TICKS_PER_BEAT
        self.call_bars = len(heard.bars)
        self.line = {
            bar * self.bar_ticks + onset: pitch
            for bar, content in enumerate(heard.bars)
            for onset, pitch in content.line
        }
        self.is_bass = scene.is_bass_call
        self.minor = brief.key.scale.is_minor
        self._tonic_pc, classes = brief.key.tonic_pc, brief.key.pitch_classes
        mode = "minor" if self.minor else "major"
        self._degree_names = [f"{mode} {self.degree(pc) + 1}" for pc in range(OCTAVE)]
        self._ladder = [p for p in range(-24, 152) if p % OCTAVE in classes]
        self._rungs = [bisect_right(self._ladder, pitch) - 1 for pitch in range(128)]
        self.places = self._beats(brief.answer_bars)
        self.called = [self._cell(p) for p in self._beats(self.call_bars)]
        self.beats_a_bar = len(self.called) // self.call_bars
        self.own = [self.called_cell(place.bar, place.beat) for place in self.places]
        """The call's cell at each place of the answer."""
        self.others = [self.called_cell(place.bar + 1, place.beat) for place in self.places]
        """The call's cell a bar on."""
        self._strokes: dict[int, list[tuple[int, bool, bool]]] = {}
        self.cells = Counter(self.called)
        self.cell_notes = fmean(len(cell) for cell in self.called)
        self.gaps = frozenset(b - a for a, b in pairwise(self.line))
        self._count(list(self.line.values()))

    def _count(self, pitches: list[int]) -> None:
        """What the call's pitches have in common, and how they move."""
        self.low, self.high = min(pitches), max(pitches)
        self.mean = sum(pitches) / len(pitches)
        common = Counter(pitch % OCTAVE for pitch in pitches)
        self._common = [log((common[pc] + 0.5) / (len(pitches) + 6)) for pc in range(OCTAVE)]
        steps = [self.step(a, b) for a, b in pairwise(pitches)]
        self.steps = Counter(steps)
        self.sizes = Counter(abs(step) for step in steps)
        self.middle = fmean(self.rung(pitch) for pitch in pitches)
        self.pairs = set(pairwise(pitches))
        self.follows = {p: frozenset(b for a, b in self.pairs if a == p) for p in set(pitches)}
        self.threes = set(zip(pitches, pitches[1:], pitches[2:], strict=False))
        self.pitches = frozenset(pitches)
        self.last = pitches[-1]
        self.first = pitches[0]

    def rung(self, pitch: int) -> int:
        """The pitch's place on the key's ladder; a note between two rungs stands on the lower."""
        return self._rungs[pitch]

    def step(self, one: int, other: int) -> int:
        """Scale steps from one pitch to another, up positive."""
        return self._rungs[other] - self._rungs[one]

    def commonness(self, pitch: int) -> float:
        """How common a note is in the call in any octave: the logarithm of its share."""
        return self._common[pitch % OCTAVE]

    def beat_name(self, tick: int) -> str:
        """What kind of beat begins at a tick: "beat", "dotted beat", or "" off the beat."""
        if tick % self.bar_ticks % self.beat_ticks:
            return ""
        return "beat" if self.beat_ticks == TICKS_PER_BEAT else "dotted beat"

    def degree(self, pitch: int) -> int:
        """Scale degree 0..6 above the tonic."""
        return _DEGREES[(pitch - self._tonic_pc) % OCTAVE]

    def degree_name(self, pitch: int) -> str:
        """Mode and scale degree, such as "minor 3"."""
        return self._degree_names[pitch % OCTAVE]

    def called_cell(self, bar: int, beat: int) -> Cell:
        """The call's cell that stands at this beat of a bar (the call repeats)."""
        return self.called[bar % self.call_bars * self.beats_a_bar + beat]

    def strokes(self, place: Place) -> list[tuple[int, bool, bool]]:
        """Sixteenths of a place with a drum: ticks from its beginning, a kick, a snare."""
        known = self._strokes.get(place.tick)
        if known is None:
            kicks, snares = self.scene.frame.kicks, self.scene.frame.snares
            ticks = range(place.tick, place.tick + place.ticks, TICKS_PER_SIXTEENTH)
            known = self._strokes[place.tick] = [
                (tick - place.tick, tick in kicks, tick in snares)
                for tick in ticks
                if tick in kicks or tick in snares
            ]
        return known

    def _beats(self, bars: int) -> list[Place]:
        """The beats of so many bars; the last of a bar may be short."""
        starts = range(0, self.bar_ticks, self.beat_ticks)
        return [
            Place(
                bar,
                beat,
                bar * self.bar_ticks + start,
                min(self.beat_ticks, self.bar_ticks - start),
            )
            for bar in range(bars)
            for beat, start in enumerate(starts)
        ]

    def _cell(self, place: Place) -> Cell:
        end = place.tick + place.ticks
        return tuple(tick - place.tick for tick in self.line if place.tick <= tick < end)
