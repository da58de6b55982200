"""Listening: what the composer hears in a call (top line, rhythm grid, pitch weights)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from live.clock.metre import Metre
from live.clock.units import TICKS_PER_BEAT, TICKS_PER_SIXTEENTH
from live.notes.phrase import Call, PhraseNote

TRIPLET_TICKS: Final = TICKS_PER_BEAT // 3
EIGHTH_TICKS: Final = TICKS_PER_BEAT // 2

_TRIPLET_MARGIN: Final = 0.6
"""Triplets are heard when their grid leaves less than this share of the sixteenths' error."""


@dataclass(frozen=True, slots=True)
class BarHeard:
    """One bar of the call.

    Args:
        line: (onset in ticks from the bar line, top note) on the grid, ascending onsets.
        weights: sounding ticks by pitch class 0..11.
        lowest: lowest sounding note, None in silence.
    """

    line: tuple[tuple[int, int], ...]
    weights: tuple[int, ...]
    lowest: int | None

    @property
    def onsets(self) -> tuple[int, ...]:
        """Grid onsets in ticks from the bar line."""
        return tuple(onset for onset, _ in self.line)


@dataclass(frozen=True, slots=True)
class Heard:
    """The call as the composer hears it.

    Args:
        bars: at least one.
        grid_ticks: sixteenths, or eighth-note triplets where the call plays those.
        last_pitch: top note of the last onset, None for an empty call.
        mean_velocity: 0.0 for an empty call.
    """

    bars: tuple[BarHeard, ...]
    grid_ticks: int
    last_pitch: int | None
    mean_velocity: float

    def bar(self, answer_bar: int) -> BarHeard:
        """The call's bar that stands where `answer_bar` stands in the answer."""
        return self.bars[answer_bar % len(self.bars)]


def listen(call: Call, metre: Metre) -> Heard:
    """Hear a call: any number of notes, overlapping or not, played early or late.

    Thread: any; pure. Cost: linear in the notes.
    """
    bar_ticks, count = metre.bar_ticks, max(1, call.bars)
    grid = _grid(call.notes, bar_ticks)
    top: dict[int, int] = {}
    weights = [[0] * 12 for _ in range(count)]
    lowest: list[int | None] = [None] * count
    for note in call.notes:
        onset = _on_grid(note.onset_ticks, grid, count * bar_ticks)
        top[onset] = max(note.pitch, top.get(onset, 0))
        for bar, sounding in _by_bar(onset, max(1, note.length_ticks), bar_ticks, count):
            weights[bar][note.pitch % 12] += sounding
            low = lowest[bar]
            lowest[bar] = note.pitch if low is None else min(low, note.pitch)
    lines: list[list[tuple[int, int]]] = [[] for _ in range(count)]
    for onset in sorted(top):
        lines[onset // bar_ticks].append((onset % bar_ticks, top[onset]))
    velocity = sum(n.velocity for n in call.notes) / max(1, len(call.notes))
    return Heard(
        bars=tuple(
            BarHeard(tuple(line), tuple(weight), low)
            for line, weight, low in zip(lines, weights, lowest, strict=True)
        ),
        grid_ticks=grid,
        last_pitch=top[max(top)] if top else None,
        mean_velocity=velocity,
    )


def _grid(notes: tuple[PhraseNote, ...], bar_ticks: int) -> int:
    """Sixteenths, or eighth triplets when they fit clearly better."""
    if bar_ticks % TICKS_PER_BEAT:
        return TICKS_PER_SIXTEENTH
    straight = sum(_miss(n.onset_ticks, TICKS_PER_SIXTEENTH) for n in notes)
    triplet = sum(_miss(n.onset_ticks, TRIPLET_TICKS) for n in notes)
    return TRIPLET_TICKS if triplet < _TRIPLET_MARGIN * straight else TICKS_PER_SIXTEENTH


def _miss(ticks: int, grid: int) -> int:
    rest = ticks % grid
    return min(rest, grid - rest)


def _on_grid(ticks: int, grid: int, end: int) -> int:
    """The nearest grid line; a note played early for the next phrase stays on the last line."""
    return max(0, min(end - grid, (ticks + grid // 2) // grid * grid))


def _by_bar(onset: int, length: int, bar_ticks: int, count: int) -> list[tuple[int, int]]:
    """(bar, sounding ticks in it) for one note, clipped to the call."""
    end = min(onset + length, count * bar_ticks)
    first, last = onset // bar_ticks, max(onset, end - 1) // bar_ticks
    return [
        (bar, min(end, (bar + 1) * bar_ticks) - max(onset, bar * bar_ticks))
        for bar in range(first, last + 1)
    ]
