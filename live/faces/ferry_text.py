"""Tells the story of 'Night Ferry': calls, what was moved and why, answers with their reasons."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any, Final

from live.clock.units import TICKS_PER_BEAT, ns_to_ticks
from live.faces import night_ferry as ferry
from live.faces.ferry_run import Ferry
from live.faces.lane import draw_lane
from live.faces.output import columns_wide
from live.notes.config import EngineConfig
from live.notes.phrase import Brief, Choice, PhraseNote
from live.theory.degrees import degree_of
from live.theory.pitch import pretty
from live.theory.snap import why_moved

_SILENT: Final = -1


def story(found: Ferry) -> list[str]:
    """The whole story as lines for people."""
    config = found.config
    form = f"{config.form.call_bars} bars of call, {config.form.answer_bars} of answer"
    about = (config.key.pretty, f"{config.tempo_bpm:g} BPM", pretty(ferry.PROGRESSION), form)
    lines = [f"Night Ferry   {', '.join(about)}"]
    for record in found.records:
        detail: dict[str, Any] = json.loads(record.detail) if record.detail else {}
        if record.kind == "call":
            brief, _ = found.rounds[int(detail["number"]) - 1]
            lines += ["", *_call_lines(brief, int(detail["number"]))]
        elif record.kind == "moved":
            lines.append(_moved_line(record.at_ns, detail, config))
        elif record.kind == "answer":
            brief, choices = found.rounds[int(detail["number"]) - 1]
            lines += ["", *_answer_lines(brief, choices, int(detail["choice"]))]
    return lines


def _call_lines(brief: Brief, number: int) -> list[str]:
    call = brief.call
    over = _chords(brief, call.first_bar, call.bars)
    title = f"call {number}   bar {call.first_bar + 1}, over {over}"
    return [title, *_lane(brief, call.notes, call.first_bar, call.bars)]


def _lane(brief: Brief, notes: Sequence[PhraseNote], first_bar: int, bars: int) -> list[str]:
    room = columns_wide()
    lane = draw_lane(notes, bars, brief.metre, brief.key, first_bar, columns=room)
    return [f"   {line}" for line in lane]


def _chords(brief: Brief, first_bar: int, bars: int) -> str:
    if brief.progression is None:
        return "no chords"
    names = [brief.progression.chord_at(first_bar + bar).pretty for bar in range(bars)]
    return " ".join(dict.fromkeys(names))


def _moved_line(at_ns: int, detail: dict[str, Any], config: EngineConfig) -> str:
    pressed, sounding = detail["pressed"], detail["sounding"]
    why = why_moved(pressed, _SILENT if sounding is None else sounding, config.key, config.snap)
    degree = "" if sounding is None else f" ({degree_of(sounding, config.key).label()})"
    return f"   moved, {place(at_ns, config)}: {pretty(why)}{pretty(degree)}"


def place(at_ns: int, config: EngineConfig) -> str:
    """`bar 3 beat 2.5` of a time in nanoseconds from the first bar line, to the nearest 16th."""
    sixteenths = round(ns_to_ticks(at_ns, config.tempo_bpm) * 4 / TICKS_PER_BEAT)
    bar, rest = divmod(sixteenths * TICKS_PER_BEAT // 4, config.metre.bar_ticks)
    return f"bar {bar + 1} beat {rest / config.metre.beat_ticks + 1:g}"


def _answer_lines(brief: Brief, choices: Sequence[Choice], chosen: int) -> list[str]:
    choice = choices[chosen - 1]
    over = _chords(brief, brief.answer_first_bar, brief.answer_bars)
    words = pretty(", ".join(choice.words))
    title = f"answer {brief.call.number}   bar {brief.answer_first_bar + 1}, over {over}: {words}"
    others = [pretty(", ".join(c.words)) for c in choices if c.rank != chosen]
    lines = [title, *_lane(brief, choice.notes, brief.answer_first_bar, brief.answer_bars)]
    lines += [f"   - {pretty(reason)}" for reason in choice.reasons]
    return [*lines, f"   also on offer: {'; '.join(others)}"] if others else lines
