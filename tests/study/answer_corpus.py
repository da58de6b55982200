"""Calls and their answers in tunes: two bars and the two that follow.

Those the critic is judged by are bars 1 to 4 of a tune after any pickup; later strains give more
to learn from.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from live.clock.metre import Metre
from tests.study.tune_reader import Note, Tune, load

__all__ = ["LEARNED_FROM", "Exchange", "Tune", "exchanges", "families_of", "load"]

LEARNED_FROM = ("ryansMammoth", "airdsAirs")
METRES = ("4/4", "2/2", "2/4", "6/8", "12/8")
LEAST_NOTES = 4
DISTRACTORS = 9

_SHORT_BAR = 0.74
"""A bar before a repeat sign may lack the pickup of what follows it."""


@dataclass(frozen=True)
class Exchange:
    """A call of two bars and its answer, the next two; ticks from the first bar line of each."""

    tune: str
    family: int
    tonic_pc: int
    is_minor: bool
    metre: Metre
    call: tuple[Note, ...]
    answer: tuple[Note, ...]
    first: bool
    opens: bool


def _starts(tune: Tune) -> Iterator[tuple[int, int]]:
    """(bar an exchange may begin with, how many of its strain are before it): every second one."""
    full = tune.metre.bar_ticks
    count = 0
    for at, (length, notes, opens) in enumerate(tune.bars):
        count = 0 if opens else count
        if length == full and notes:
            if count % 2 == 0:
                yield at, count
            count += 1


def _phrase(tune: Tune, at: int) -> tuple[Note, ...]:
    """Two bars as one phrase, the second after a whole bar."""
    full = tune.metre.bar_ticks
    return tuple(
        (onset + late, length, pitch)
        for late, (_, notes, _) in zip((0, full), tune.bars[at : at + 2], strict=True)
        for onset, length, pitch in notes
    )


def exchanges(tunes: Sequence[Tune], families: Sequence[int]) -> list[Exchange]:
    """Every exchange of the tunes, those of the benchmark marked `first`; copies left out."""
    found = []
    for tune, family in zip(tunes, families, strict=True):
        if str(tune.metre) not in METRES:
            continue
        full, first = tune.metre.bar_ticks, True
        for at, count in _starts(tune):
            lengths = [bar[0] for bar in tune.bars[at : at + 4]]
            whole = len(lengths) == 4 and lengths[:3] == [full] * 3
            if whole and _SHORT_BAR * full <= lengths[3] <= full:
                call, answer = _phrase(tune, at), _phrase(tune, at + 2)
                if min(len(call), len(answer)) >= LEAST_NOTES and call != answer:
                    where = tune.name, family, tune.tonic_pc, tune.is_minor, tune.metre
                    found.append(Exchange(*where, call, answer, first, count == 0))
            first = False
    return found


def families_of(tunes: Sequence[Tune], alike: float = 0.7) -> list[int]:
    """A number for each tune, the same for variants of one tune.

    Variants share a title, or a strain's first four bars where at least the share `alike` of
    the eighth parts of bars have the same degree.
    """
    parent = list(range(len(tunes)))

    def root(at: int) -> int:
        while parent[at] != at:
            parent[at] = parent[parent[at]]
            at = parent[at]
        return at

    titled: dict[str, int] = {}
    heads: dict[int, list[tuple[int, list[int]]]] = defaultdict(list)
    for at, tune in enumerate(tunes):
        for title in tune.titles:
            if title:
                parent[root(at)] = root(titled.setdefault(title, at))
        slots = 6 if tune.metre.beats % 3 == 0 else 8
        for begin, (_, _, opens) in enumerate(tune.bars):
            begin += opens and tune.bars[begin][0] < tune.metre.bar_ticks
            bars = tune.bars[begin : begin + 4]
            if opens and len(bars) == 4:
                heads[slots].append((at, [d for bar in bars for d in _degrees(tune, bar, slots)]))
    for rows in heads.values():
        owners = [at for at, _ in rows]
        grid = np.array([degrees for _, degrees in rows], dtype=np.int8)
        for row, here in enumerate(owners):
            same = (grid[row + 1 :] == grid[row]).mean(1)
            for other in np.flatnonzero(same >= alike):
                parent[root(owners[row + 1 + other])] = root(here)
    return [root(at) for at in range(len(tunes))]


def _degrees(tune: Tune, bar: tuple[int, tuple[Note, ...], bool], slots: int) -> list[int]:
    """Semitones above the tonic (0 to 11) that sound in each part of a bar; the last one held."""
    found, notes = [], bar[1]
    for slot in range(slots):
        tick = tune.metre.bar_ticks * slot // slots
        sounding = [pitch for onset, _, pitch in notes if onset <= tick] or [
            p for *_, p in notes[:1]
        ]
        found.append((sounding[-1] - tune.tonic_pc) % 12 if sounding else -1)
    return found
