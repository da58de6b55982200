"""Degree drill: which degree to ask next, how a played note is judged, how the score stands.

Pure: chance comes in as a `random.Random`, notes as numbers. Thread: any.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

from live.theory.degrees import Degree, Style, degree_of
from live.theory.keys import Key

Verdict = Literal["right", "close", "wrong"]

CLOSE_SEMITONES: Final = 1
"""A note this near to the asked degree counts as close (our choice: a slip of one key)."""

_CLOSE_WORTH: Final = 0.5  # our choice: a close note is half of a right one
_MIDDLE_C: Final = 60


@dataclass(frozen=True, slots=True)
class Tally:
    """Answers given so far for one degree; counts from 0."""

    right: int = 0
    close: int = 0
    wrong: int = 0

    @property
    def asked(self) -> int:
        """How often the degree was asked and answered."""
        return self.right + self.close + self.wrong

    @property
    def points(self) -> float:
        """Right notes plus half of the close ones, 0 to `asked`."""
        return self.right + _CLOSE_WORTH * self.close

    @property
    def weakness(self) -> float:
        """Chance that the next answer misses, above 0 and below 1; 0.5 when never asked.

        Source: rule of succession (Laplace 1774, from memory).
        """
        return 1.0 - (self.points + 1.0) / (self.asked + 2.0)


@dataclass(frozen=True, slots=True)
class Drill:
    """A drill under way.

    Args:
        key: the key whose degrees are asked.
        tallies: one for each degree of the scale, in scale order.
        last: place of the degree asked last (0 = tonic), None before the first question.
    """

    key: Key
    tallies: tuple[Tally, ...]
    last: int | None = None


@dataclass(frozen=True, slots=True)
class Judgement:
    """What a played note was worth, and a sentence that says why.

    `hint` is a sentence that does not give the right note away; "" where there is none to find.
    """

    verdict: Verdict
    words: str
    hint: str = ""


def start_drill(key: Key) -> Drill:
    """A drill with nothing asked yet."""
    return Drill(key, tuple(Tally() for _ in key.scale.steps))


def ask(drill: Drill, chance: random.Random) -> int:
    """Place of the next degree to ask (0 = tonic): weak ones more often, never twice in a row."""
    places = [p for p in range(len(drill.tallies)) if p != drill.last]
    weights = [drill.tallies[place].weakness for place in places]
    return chance.choices(places, weights)[0]


def asked_note(key: Key, place: int) -> int:
    """A MIDI note of the asked degree, in the octave above the tonic next to C4."""
    tonic = _MIDDLE_C + (key.tonic_pc + 6) % 12 - 6
    return tonic + key.scale.steps[place]


def asked_degree(key: Key, place: int) -> Degree:
    """The degree at a place in the scale (0 = tonic)."""
    return degree_of(asked_note(key, place), key)


def judge(key: Key, place: int, note: int, labels: Style = "major") -> Judgement:
    """Judge a played note against the asked degree; the octave does not matter.

    Args:
        key: the key the degree belongs to.
        place: place of the asked degree, 0 to the scale's length - 1.
        note: MIDI note played, 0 to 127.
        labels: how degrees are written in the words.
    """
    wanted = asked_note(key, place)
    degree = degree_of(wanted, key)
    target = f"{degree.label(labels)} is {key.spell(wanted).name}"
    return judge_note(key, wanted, note, (target, degree.name), labels)


def judge_note(
    key: Key, wanted: int, note: int, target: tuple[str, str], labels: Style = "major"
) -> Judgement:
    """Judge a played note against a wanted one; the octave does not matter.

    Args:
        key: names what was played.
        wanted: MIDI note of what was asked, in any octave.
        note: MIDI note played, 0 to 127.
        target: what was asked for, in words: `b3 is F` and its name, `mediant`.
        labels: how degrees are written in the words.
    """
    what, name = target
    off = (wanted - note + 6) % 12 - 6
    if off == 0:
        return Judgement("right", f"right: {what}, the {name}")
    played = f"{key.spell(note).name} is the {degree_of(note, key).label(labels)}"
    if abs(off) <= CLOSE_SEMITONES:
        side = "higher" if off > 0 else "lower"
        hint = f"close: {played}; go a half step {side}"
        return Judgement("close", f"close: {played}; {what}, a half step {side}", hint)
    return Judgement("wrong", f"wrong: {played}; {what}, the {name}", f"wrong: {played}")


def after(drill: Drill, place: int, verdict: Verdict) -> Drill:
    """The drill after the degree at `place` was asked and answered."""
    old = drill.tallies[place]
    new = replace(old, **{verdict: getattr(old, verdict) + 1})
    tallies = (*drill.tallies[:place], new, *drill.tallies[place + 1 :])
    return replace(drill, tallies=tallies, last=place)


def total(tallies: Sequence[Tally]) -> Tally:
    """All degrees taken together."""
    return Tally(
        sum(t.right for t in tallies), sum(t.close for t in tallies), sum(t.wrong for t in tallies)
    )


def since(before: Sequence[Tally], now: Sequence[Tally]) -> tuple[Tally, ...]:
    """What was answered between two counts of the same degrees, degree by degree."""
    return tuple(
        Tally(new.right - old.right, new.close - old.close, new.wrong - old.wrong)
        for old, new in zip(before, now, strict=True)
    )


def weakest(drill: Drill) -> int | None:
    """Place of the degree missed most, None while every answer was right."""
    missed = [p for p, t in enumerate(drill.tallies) if t.asked > t.right]
    return max(missed, key=lambda p: drill.tallies[p].weakness, default=None)
