"""A phrase drawn in text: time from left to right, pitch upwards, the degree at each start."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final, NamedTuple

from live.clock.metre import Metre
from live.clock.units import TICKS_PER_SIXTEENTH
from live.notes.phrase import PhraseNote
from live.theory.degrees import degree_of
from live.theory.keys import Key
from live.theory.pitch import pretty

_CELL: Final = 2  # characters for a sixteenth note: room for a label such as b3
_BARS_A_LINE: Final = 2
_MARGIN: Final = 12
"""Characters beside the bars: what callers put before a line, the longest name, bar lines."""


Words = Sequence[tuple[int, str]]
"""(tick, word) of what is written at places of a phrase."""


class Beside(NamedTuple):
    """What is written above and under the notes of a phrase, each with its name at the left."""

    above: tuple[str, Words] | None = None
    under: tuple[str, Words] | None = None


NOTHING_BESIDE: Final = Beside()


def draw_lane(
    notes: Sequence[PhraseNote],
    bars: int,
    metre: Metre,
    key: Key,
    first_bar: int = 0,
    beside: Beside = NOTHING_BESIDE,
    *,
    columns: int | None = None,
) -> list[str]:
    """Draw a phrase, two bars to a system, or one where two are too wide.

    Args:
        notes: onsets from the phrase's first bar line.
        bars: length of the phrase, 1 or more.
        metre: time signature.
        key: gives the names at the left and the degrees inside.
        first_bar: the phrase's first bar in the song, from 0; the ruler counts from there.
        beside: words above and under the notes.
        columns: characters that there is room for; None = as many as two bars need.
    Returns: lines without line ends; a system without notes is its ruler alone.
    """
    lines: list[str] = []
    two_need = _BARS_A_LINE * _width(metre.bar_ticks) + _MARGIN
    a_line = _BARS_A_LINE if columns is None or columns >= two_need else 1
    for first in range(0, bars, a_line):
        count = min(a_line, bars - first)
        begin, end = first * metre.bar_ticks, (first + count) * metre.bar_ticks
        inside = [
            replace(note, onset_ticks=note.onset_ticks - begin)
            for note in notes
            if note.onset_ticks < end and note.onset_ticks + note.length_ticks > begin
        ]
        ruler = _ruler(first_bar + first, count, metre)
        rows = [("", ruler)]
        if beside.above:
            rows += _words(beside.above, begin, end, len(ruler))
        names = {pitch: pretty(key.note_name(pitch)) for pitch in {n.pitch for n in inside}}
        for pitch in sorted(names, reverse=True):
            row = _row([n for n in inside if n.pitch == pitch], len(ruler), key)
            rows.append((names[pitch], row))
        if beside.under:
            rows += _words(beside.under, begin, end, len(ruler))
        margin = max(2, *(len(name) for name, _ in rows))
        lines += [f"{name:>{margin}} {_with_bar_lines(row, metre)}" for name, row in rows]
    return lines


def _words(named: tuple[str, Words], begin: int, end: int, width: int) -> list[tuple[str, str]]:
    """Rows of words; one that would touch the word before it goes into a row below."""
    rows: list[str] = [""]
    for tick, word in named[1]:
        if not begin <= tick < end:
            continue
        start = _place(tick - begin)
        place = next((i for i, row in enumerate(rows) if not row or len(row) < start), len(rows))
        rows += [""] * (place + 1 - len(rows))
        rows[place] = f"{rows[place]:<{start}}{pretty(word)}"[:width]
    names = (named[0], *("" for _ in rows[1:]))
    return [(name, row.ljust(width)) for name, row in zip(names, rows, strict=True)]


def _width(ticks: int) -> int:
    return ticks * _CELL // TICKS_PER_SIXTEENTH


def _place(ticks: int) -> int:
    """The nearest character, so that swing and triplets are seen."""
    return round(ticks * _CELL / TICKS_PER_SIXTEENTH)


def _ruler(first: int, count: int, metre: Metre) -> str:
    """Bar numbers and a dot at every further beat."""
    beat = _width(metre.beat_ticks)
    bars = []
    for bar in range(first, first + count):
        marks = [f"{bar + 1}".ljust(beat), *("·".ljust(beat) for _ in range(metre.beats - 1))]
        bars.append("".join(marks)[: _width(metre.bar_ticks)])
    return "".join(bars)


def _row(notes: Sequence[PhraseNote], width: int, key: Key) -> str:
    """The notes of one pitch; a label only where the note begins."""
    row = [" "] * width
    for note in sorted(notes, key=lambda n: n.onset_ticks):
        start = _place(note.onset_ticks)
        stop = max(_place(note.onset_ticks + note.length_ticks), start + 1)
        label = pretty(degree_of(note.pitch, key).label()) if start >= 0 else ""
        for place, mark in enumerate(label.ljust(stop - start, "─"), start):
            if 0 <= place < width:
                row[place] = mark
    return "".join(row)


def _with_bar_lines(row: str, metre: Metre) -> str:
    width = _width(metre.bar_ticks)
    bars = (row[i : i + width] for i in range(0, len(row), width))
    return "|" + "|".join(bars) + "|"
