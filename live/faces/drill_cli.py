"""`undersong drill`: practise the degrees of a key on the keyboard or by typing note names.

What was missed before is asked more often: the memory is the one of the drills in the window.
"""

from __future__ import annotations

import argparse
import random
import sys
from collections.abc import Callable, Sequence

from live.daemon.remembering import Remembering
from live.daemon.settings import load
from live.faces.keyboard import open_keyboard
from live.faces.output import aside, emit_json, plural, say, say_columns
from live.faces.values import read_key, seed_number, whole_number
from live.practice.drill import (
    Drill,
    Tally,
    Verdict,
    after,
    ask,
    asked_degree,
    judge,
    since,
    start_drill,
    total,
    weakest,
)
from live.theory.errors import FieldError
from live.theory.pitch import parse_note, parse_spelling, pretty

_MAX_ROUNDS = 1000
_TYPING = "type a note name and press Enter (F, Bb, C#4); an empty line ends the drill"

Words = Callable[[str], None]
NextNote = Callable[[], int | None]
"""Gives the next note played, MIDI number, or None when no more will come."""


def run(args: argparse.Namespace) -> int:
    """Ask, judge, and sum up."""
    key = read_key(args.key)
    rounds = whole_number("rounds", args.rounds, 1, _MAX_ROUNDS)
    chance = random.Random(None if args.seed is None else seed_number(args.seed))
    words: Words = aside if args.json else say
    memory = Remembering(load(), words) if args.seed is None else None
    begun = memory.drill(key) if memory else start_drill(key)
    keyboard = None if args.typed else open_keyboard(words)
    if keyboard is None:
        words(_TYPING)
        drill = _play(begun, rounds, chance, lambda: typed_note(words), words)
    else:
        with keyboard:
            drill = _play(begun, rounds, chance, keyboard.next_note, words)
    played = since(begun.tallies, drill.tallies)
    if memory and total(played).asked:
        memory.keep(drill)
    if args.json:
        emit_json(_as_json(drill, played))
    else:
        _tell_summary(drill, played)
    return 0


def _play(
    drill: Drill, rounds: int, chance: random.Random, next_note: NextNote, words: Words
) -> Drill:
    try:
        for number in range(1, rounds + 1):
            place = ask(drill, chance)
            degree = asked_degree(drill.key, place)
            words(f"{number} of {rounds}   {pretty(degree.label())}   {degree.name}")
            note = next_note()
            if note is None:
                break
            judgement = judge(drill.key, place, note)
            words(f"   {pretty(judgement.words)}")
            drill = after(drill, place, judgement.verdict)
    except KeyboardInterrupt:
        words("")  # the summary of what was played so far follows
    return drill


def typed_note(words: Words) -> int | None:
    """A note typed on standard input, None at an empty line or the end; asks again when unclear."""
    for line in sys.stdin:
        text = line.strip()
        if not text:
            return None
        try:
            return _read_note(text)
        except FieldError as error:
            words(f"   {error}")
    return None


def _read_note(text: str) -> int:
    if text[-1].isdigit():
        return parse_note(text)
    return 60 + parse_spelling(text).pitch_class


def _score(played: Sequence[Tally]) -> tuple[int, str]:
    tally = total(played)
    return tally.asked, f"{tally.right} right, {tally.close} close, {tally.wrong} wrong"


def _tell_summary(drill: Drill, played: Sequence[Tally]) -> None:
    asked, score = _score(played)
    say()
    say(f"{plural(asked, 'note')} in {drill.key.pretty}: {score}")
    rows: list[tuple[str, ...]]
    rows = [("degree", "function", "asked", "right", "close", "wrong")]
    for place, tally in enumerate(played):
        degree = asked_degree(drill.key, place)
        counts = (str(n) for n in (tally.asked, tally.right, tally.close, tally.wrong))
        rows.append((pretty(degree.label()), degree.name, *counts))
    say_columns(rows, right=(2, 3, 4, 5), indent=2)
    weak = weakest(drill)
    if weak is not None:
        degree = asked_degree(drill.key, weak)
        say(f"practise {pretty(degree.label())}, the {degree.name}, again")


def _as_json(drill: Drill, played: Sequence[Tally]) -> dict[str, object]:
    verdicts: tuple[Verdict, ...] = ("right", "close", "wrong")
    tally = total(played)
    degrees = [
        {"degree": asked_degree(drill.key, place).label(), "asked": t.asked}
        | {verdict: getattr(t, verdict) for verdict in verdicts}
        for place, t in enumerate(played)
    ]
    return {
        "key": drill.key.name,
        "asked": tally.asked,
        **{verdict: getattr(tally, verdict) for verdict in verdicts},
        "degrees": degrees,
    }
