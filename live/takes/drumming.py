"""The drums of a take: its grooves, laid out over the time that its transport ran. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Final, NamedTuple

from live.answer.grooves import find_groove, strokes_in
from live.answer.swing import in_force
from live.clock.units import TICKS_PER_SIXTEENTH
from live.notes.phrase import PhraseNote
from live.takes.meaning import detail_of
from live.takes.take import Take
from live.takes.ticks import TickMap, stated_bar_ticks

_NO_END: Final = 1 << 62


class _Playing(NamedTuple):
    """What the drums do from a tick on.

    Fields: groove, its name or rows of steps, "" = none is known; swing, the control; origin, tick
    of the bar line it is counted from; tempo_bpm.
    """

    tick: int
    groove: str
    swing: float
    origin: int
    tempo_bpm: float


def drum_notes(take: Take, ticks: TickMap) -> list[PhraseNote]:
    """Strokes as notes, onsets in the take's ticks, from the transport's start to the take's end.

    Empty where no transport ran, or no groove was noted.
    Raises: FieldError for a groove that this version does not know.
    """
    start = next((record for record in take.records if record.kind == "start"), None)
    if start is None:
        return []
    begin, end = ticks.ticks_at(start.at_ns), ticks.ticks_at(take.end_ns)
    stages = list(_stages(take, ticks))
    notes: list[PhraseNote] = []
    for stage, after in pairwise([*stages, stages[-1]._replace(tick=_NO_END)]):
        span = range(max(begin, stage.tick), min(end, after.tick))
        if span and stage.groove:
            groove = find_groove(stage.groove)
            swing = in_force(groove, take.metre, stage.tempo_bpm, stage.swing)
            notes += [
                PhraseNote(onset, TICKS_PER_SIXTEENTH, key, velocity)
                for onset, key, velocity in strokes_in(
                    span, groove, take.metre, swing, stage.origin
                )
            ]
    return notes


def _stages(take: Take, ticks: TickMap) -> Iterator[_Playing]:
    """One for each change of groove, section and tempo, in order; the first holds from ever."""
    tempos = [(at, tempo, None) for at, tempo in ticks.tempos(take.end_ns)]
    told = [
        (_near_bar(ticks.ticks_at(record.at_ns), take), 0.0, record)
        for record in take.records
        if record.kind in ("groove", "section")
    ]
    bars_before = (ticks.first_bar or 0) * take.metre.bar_ticks
    now = _Playing(-_NO_END, "", 0.0, -bars_before, tempos[0][1])
    yield now
    for at, tempo, record in sorted([*tempos, *told], key=lambda change: change[0]):
        now = now._replace(tick=at)
        if record is None:
            now = now._replace(tempo_bpm=tempo)
        elif record.kind == "section":
            line = stated_bar_ticks(record, take, ticks.first_bar)
            now = now if line is None else now._replace(origin=line)
        else:
            detail = detail_of(record)
            groove, swing = str(detail.get("groove", "")), float(detail.get("swing", 0.0))
            now = now._replace(groove=groove, swing=swing)
        yield now


def _near_bar(tick: int, take: Take) -> int:
    """What comes into force on a bar line is told a little later."""
    bar = take.metre.bar_ticks
    line = round(tick / bar) * bar
    return line if abs(line - tick) <= take.metre.beat_ticks // 4 else tick
