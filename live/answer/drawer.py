"""Drawing pitches in the call's own voice: one note after the other, each by its chance.

A note's chance is a logit: the sum of the weights (`voice_table`) of its features (`melody`). What
does not depend on the line is worked out once a call.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from math import exp
from random import Random
from typing import Final, NamedTuple

from live.answer.cells import Features, Weights
from live.answer.draws import one_of
from live.answer.melody import (
    FARTHEST,
    Flow,
    allowed,
    arrival_features,
    called_at,
    degree_at,
    level_of,
    pitch_features,
    place_features,
    size_features,
    spot_features,
    spot_of,
    step_features,
    within,
)
from live.answer.voice import OCTAVE, Voice
from live.answer.voice_table import BASS_NOTES, TUNES_NOTES

_FAR: Final = 1e-20
"""Chance of a step that is farther than any seen; only taken where there is no other."""

_REACH: Final = 128
"""No two notes are more rungs apart."""


class Wish(NamedTuple):
    """What a plan or the controls add, in log odds.

    Args:
        called: for the call's own note at its place.
        along: for the call's own step at its place.
        turned: for the call's step turned over.
        until: ticks from which on the first three no longer count.
    """

    called: float = 0.0
    along: float = 0.0
    turned: float = 0.0
    until: int = 1 << 30

    def counts_at(self, tick: int) -> bool:
        """Whether there is anything to wish for at a place."""
        return tick < self.until and bool(self.called or self.along or self.turned)


class Notes(NamedTuple):
    """Notes that may stand in a place, and their rungs, both looked up by `by_pitch`, `by_rung`.

    Notes off the key's ladder share the rung below; of these the lower one has it in `by_rung`.
    """

    pitches: Sequence[int]
    rungs: Sequence[int]
    by_pitch: dict[int, int]
    by_rung: dict[int, int]

    @staticmethod
    def of(pitches: Sequence[int], rungs: Sequence[int]) -> Notes:
        """From both, ascending."""
        places = range(len(pitches))
        by_rung = dict(zip(reversed(rungs), reversed(places), strict=True))
        return Notes(pitches, rungs, dict(zip(pitches, places, strict=True)), by_rung)


class Column(NamedTuple):
    """The notes that may stand in a place and their chances (not scaled)."""

    notes: Notes
    chances: list[float]

    def ending(self, last: frozenset[int]) -> Column:
        """Only the notes of these pitch classes, or all where there are none."""
        pitches, rungs = self.notes.pitches, self.notes.rungs
        kept = [at for at, pitch in enumerate(pitches) if pitch % OCTAVE in last]
        if len(kept) in (0, len(pitches)):
            return self
        notes = Notes.of([pitches[at] for at in kept], [rungs[at] for at in kept])
        return Column(notes, [self.chances[at] for at in kept])


@lru_cache(maxsize=1024)
def _plain_row(bass: bool, before: int | None, beat: str, last: bool) -> tuple[float, ...]:  # noqa: FBT001
    """Log odds of each step from -FARTHEST to FARTHEST after a step, whatever the call."""
    get = weights_of(bass).get
    return tuple(
        sum(
            get(name, 0.0) * value
            for name, value in (
                *step_features(before, step),
                *arrival_features(step, beat=beat, last=last),
            )
        )
        for step in range(-FARTHEST, FARTHEST + 1)
    )


def weights_of(bass: bool) -> Weights:  # noqa: FBT001
    """The weights of notes in a bass line, or in a tune."""
    return BASS_NOTES if bass else TUNES_NOTES


class MelodyDrawer:
    """Draws lines for one call; what does not depend on the line is worked out once.

    Args:
        voice: the call's.
        size: log odds for each scale step of a move, from the controls.
        height: log odds for each scale step above the call's middle, from the controls.
    """

    def __init__(self, voice: Voice, *, size: float = 0.0, height: float = 0.0) -> None:
        self._voice, self._weights = voice, weights_of(voice.is_bass)
        self._height = height
        self._factors = {name: exp(weight) for name, weight in self._weights.items()}
        self._notes: dict[tuple[int, ...], Notes] = {}
        self._columns: dict[tuple[int, str], Column] = {}
        self._endings: dict[tuple[int, frozenset[int]], Column] = {}
        reach = range(voice.scene.brief.low, voice.scene.brief.high + 1)
        self._plain = {pitch: self._sum(pitch_features(voice, pitch)) for pitch in reach}
        self._wholes: dict[str, dict[int, float]] = {}
        self._degrees: dict[str, list[float]] = {}
        self._moves: dict[tuple[int | None, str, bool], list[float]] = {}
        self._sizes = [
            self._sum(size_features(voice, step)) + size * abs(step)
            for step in range(-FARTHEST, FARTHEST + 1)
        ]

    def draw(
        self, ticks: Sequence[int], wish: Wish, last: frozenset[int], rng: Random
    ) -> list[int]:
        """One pitch for each onset.

        Args:
            ticks: ascending, at least one.
            wish: what is wanted of this line.
            last: pitch classes the last note may have; left aside where none of them fits.
            rng: chance.
        """
        flow, count = Flow(self._voice, ticks), len(ticks)
        for number, tick in enumerate(ticks):
            spot = spot_of(number, count)
            column = self._ending(tick, last) if spot == "last" else self._column(tick, spot)
            chances = self._chances(ticks, flow, column) if number else column.chances.copy()
            if wish.counts_at(tick):
                self._add_wish(chances, column, ticks, flow, wish)
            flow.add(one_of(column.notes.pitches, chances, rng))
        return flow.path

    def _ending(self, tick: int, last: frozenset[int]) -> Column:
        """The notes that a line may end on at a place."""
        known = self._endings.get((tick, last))
        if known is None:
            known = self._endings[tick, last] = self._column(tick, "last").ending(last)
        return known

    def _column(self, tick: int, spot: str) -> Column:
        """Every note that may stand at a place."""
        known = self._columns.get((tick, spot))
        if known is None:
            voice, first = self._voice, spot == "first"
            pitches = tuple(allowed(voice, tick))
            if pitches not in self._notes:
                self._notes[pitches] = Notes.of(pitches, [voice.rung(p) for p in pitches])
            wholes, degrees = self._whole(spot), self._by_degree(level_of(voice, tick))
            called = {pitch % OCTAVE for pitch in called_at(voice, tick) if pitch is not None}
            totals = [wholes[pitch] + degrees[pitch % OCTAVE] for pitch in pitches]
            for at, pitch in enumerate(pitches):
                if pitch % OCTAVE in called:
                    features = place_features(voice, tick, pitch, first=first)
                    totals[at] = wholes[pitch] + self._sum(features)
            top = max(totals)
            known = Column(self._notes[pitches], [exp(total - top) for total in totals])
            self._columns[tick, spot] = known
        return known

    def _whole(self, spot: str) -> dict[int, float]:
        """Log odds of each note in a spot, whatever its place in the bar."""
        known = self._wholes.get(spot)
        if known is None:
            voice, get, known = self._voice, self._weights.get, {}
            for pitch, total in self._plain.items():
                for name, value in spot_features(voice, pitch, spot):
                    total += get(name, 0.0) * value  # noqa: PLW2901
                known[pitch] = total + self._height * (voice.rung(pitch) - voice.middle)
            self._wholes[spot] = known
        return known

    def _by_degree(self, level: str) -> list[float]:
        """Log odds of each pitch class by its degree, in a place of a level."""
        known = self._degrees.get(level)
        if known is None:
            names = (degree_at(self._voice, pc, level) for pc in range(OCTAVE))
            known = self._degrees[level] = [self._weights.get(name, 0.0) for name in names]
        return known

    def _sum(self, features: Features) -> float:
        get = self._weights.get
        return sum([get(name, 0.0) * value for name, value in features])

    def _row(self, before: int | None, beat: str, last: bool) -> list[float]:  # noqa: FBT001
        """Chances of each step from -_REACH to _REACH after a step, not scaled."""
        known = self._moves.get((before, beat, last))
        if known is None:
            plain = _plain_row(self._voice.is_bass, before, beat, last)
            beyond = [_FAR] * (_REACH - FARTHEST)
            known = [exp(a + b) for a, b in zip(plain, self._sizes, strict=True)]
            known = [*beyond, *known, *beyond]
            self._moves[before, beat, last] = known
        return known

    def _chances(self, ticks: Sequence[int], flow: Flow, column: Column) -> list[float]:
        number, rung = len(flow.path), flow.rungs[-1]
        before = within(rung - flow.rungs[-2]) if number > 1 else None
        beat = self._voice.beat_name(ticks[number])
        row = self._row(before, beat, number == len(ticks) - 1)
        here, notes = _REACH - rung, column.notes
        chances = [
            chance * row[r + here] for r, chance in zip(notes.rungs, column.chances, strict=True)
        ]
        factor, by_rung, by_pitch = self._factors.get, notes.by_rung.get, notes.by_pitch.get
        for is_step, value, name in flow.rules():
            at = by_rung(rung + value) if is_step else by_pitch(value)
            if at is not None:
                chances[at] *= factor(name, 1.0)
        return chances

    def _add_wish(
        self, chances: list[float], column: Column, ticks: Sequence[int], flow: Flow, wish: Wish
    ) -> None:
        voice, number, notes = self._voice, len(flow.path), column.notes
        span = voice.call_bars * voice.bar_ticks
        called = voice.line.get(ticks[number] % span)
        if called is None:
            return
        much = exp(wish.called)
        for at, pitch in enumerate(notes.pitches):
            # What is to be avoided is avoided in every octave.
            if pitch == called or (wish.called < 0 and (pitch - called) % OCTAVE == 0):
                chances[at] *= much
        then = voice.line.get(ticks[number - 1] % span) if number else None
        if then is None:
            return
        step, rung = voice.step(then, called), flow.rungs[-1]
        for wanted, much in ((rung + step, wish.along), (rung - step, wish.turned)):
            if much and wanted in notes.by_rung:
                chances[notes.by_rung[wanted]] *= exp(much)
