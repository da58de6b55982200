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
from live.answer.melody import (
    FARTHEST,
    Flow,
    allowed,
    arrival_features,
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


class Column(NamedTuple):
    """The notes that may stand in a place, their rungs and their chances (not scaled).

    Notes off the key's ladder share the rung below; of these the lower one has it in `by_rung`.
    """

    pitches: list[int]
    rungs: list[int]
    chances: list[float]
    by_pitch: dict[int, int]
    by_rung: dict[int, int]

    @staticmethod
    def of(pitches: list[int], rungs: list[int], chances: list[float]) -> Column:
        """A column with its places looked up by pitch and by rung."""
        by_rung = {rung: at for at, rung in reversed(list(enumerate(rungs)))}
        return Column(pitches, rungs, chances, {p: at for at, p in enumerate(pitches)}, by_rung)

    def ending(self, last: frozenset[int]) -> Column:
        """Only the notes of these pitch classes, or all where there are none."""
        rows = zip(self.pitches, self.rungs, self.chances, strict=True)
        kept = [row for row in rows if row[0] % OCTAVE in last]
        if len(kept) in (0, len(self.pitches)):
            return self
        pitches, rungs, chances = zip(*kept, strict=True)
        return Column.of(list(pitches), list(rungs), list(chances))


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
        self._columns: dict[tuple[int, str], Column] = {}
        self._wholes: dict[tuple[int, str], float] = {}
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
            column = self._column(tick, spot_of(number, count))
            if number == count - 1:
                column = column.ending(last)
            chances = self._chances(ticks, flow, column) if number else column.chances.copy()
            if wish.counts_at(tick):
                self._add_wish(chances, column, ticks, flow, wish)
            flow.add(rng.choices(column.pitches, chances)[0])
        return flow.path

    def _column(self, tick: int, spot: str) -> Column:
        """Every note that may stand at a place."""
        known = self._columns.get((tick, spot))
        if known is None:
            voice, first = self._voice, spot == "first"
            pitches = allowed(voice, tick)
            totals = [
                self._whole(pitch, spot)
                + self._sum(place_features(voice, tick, pitch, first=first))
                for pitch in pitches
            ]
            top = max(totals)
            rungs = [voice.rung(p) for p in pitches]
            known = Column.of(pitches, rungs, [exp(t - top) for t in totals])
            self._columns[tick, spot] = known
        return known

    def _whole(self, pitch: int, spot: str) -> float:
        """Log odds of a note in a spot, whatever its place in the bar."""
        known = self._wholes.get((pitch, spot))
        if known is None:
            voice = self._voice
            features = pitch_features(voice, pitch) + spot_features(voice, pitch, spot)
            known = self._sum(features) + self._height * (voice.rung(pitch) - voice.middle)
            self._wholes[pitch, spot] = known
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
        here = _REACH - rung
        chances = [
            chance * row[r + here] for r, chance in zip(column.rungs, column.chances, strict=True)
        ]
        factor, by_rung, by_pitch = self._factors.get, column.by_rung.get, column.by_pitch.get
        for is_step, value, name in flow.rules():
            times = factor(name)
            if times is not None:
                at = by_rung(rung + value) if is_step else by_pitch(value)
                if at is not None:
                    chances[at] *= times
        return chances

    def _add_wish(
        self, chances: list[float], column: Column, ticks: Sequence[int], flow: Flow, wish: Wish
    ) -> None:
        voice, number = self._voice, len(flow.path)
        span = voice.call_bars * voice.bar_ticks
        called = voice.line.get(ticks[number] % span)
        if called is None:
            return
        for at, pitch in enumerate(column.pitches):
            # What is to be avoided is avoided in every octave.
            if pitch == called or (wish.called < 0 and (pitch - called) % OCTAVE == 0):
                chances[at] *= exp(wish.called)
        then = voice.line.get(ticks[number - 1] % span) if number else None
        if then is None:
            return
        step, rung = voice.step(then, called), flow.rungs[-1]
        for wanted, much in ((rung + step, wish.along), (rung - step, wish.turned)):
            if much and wanted in column.by_rung:
                chances[column.by_rung[wanted]] *= exp(much)
