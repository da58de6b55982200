"""A practice under way: the question that stands, what was played to it, and the score.

A question stands until it is played right, and only the first try counts. In time it lasts some
bars; what has not been played by then is missed. By ear a degree is named once it is found, or
shown. Pure: chance comes in, notes are numbers.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from live.practice.drill import Drill, Judgement, after, weakest
from live.practice.questions import BY_EAR, Asks, Question, WrittenChord, next_question
from live.theory.degrees import Style

SHOWN_AFTER: Final = 2
"""Tries without success after which the right note is shown (own choice)."""

Outcome = Literal["right", "close", "wrong", "missed", ""]


@dataclass(frozen=True, slots=True)
class Score:
    """First tries of this practice: right ones, all, and right ones in a row."""

    right: int = 0
    asked: int = 0
    in_a_row: int = 0

    def after(self, *, right: bool) -> Score:
        """The score after one more question."""
        return Score(self.right + right, self.asked + 1, self.in_a_row + 1 if right else 0)


class Practice:
    """Asks, judges, counts.

    Args:
        drill: key and what is known of each degree.
        chance: chooses what is asked.
        labels: how degrees are written.
        asks: what may be asked.
        chords: of the progression, with how they are written.
    Owner: one thread.
    """

    def __init__(
        self,
        drill: Drill,
        chance: random.Random,
        *,
        labels: Style = "major",
        asks: Asks = "degrees",
        chords: Sequence[WrittenChord] = (),
    ) -> None:
        self.drill = drill
        self.score = Score()
        self.outcome: Outcome = ""
        """How the last note was judged, or that none came."""
        self.words = ""
        self._chance, self._labels, self._asks, self._chords = chance, labels, asks, tuple(chords)
        self._tries = 0
        self._settled = drill
        self.question = self._next(None)

    @property
    def is_by_ear(self) -> bool:
        """True if degrees are heard, not named."""
        return self._asks == BY_EAR

    @property
    def is_hidden(self) -> bool:
        """True while neither label nor name may be shown."""
        return self.is_by_ear and self.shown is None

    @property
    def weakest(self) -> int | None:
        """Place of the degree missed most; a hidden one is not yet counted, nor given away."""
        return weakest(self._settled if self.is_hidden else self.drill)

    @property
    def label(self) -> str:
        """What is asked, short."""
        return self.question.label(self.drill.key, self._labels)

    @property
    def name(self) -> str:
        """What the asked degree does."""
        return self.question.name(self.drill.key)

    @property
    def shown(self) -> int | None:
        """Pitch class of the right note once it is shown, else None."""
        return self.question.note % 12 if self._tries >= SHOWN_AFTER else None

    def play(self, note: int) -> Judgement:
        """Judge a MIDI note; a right one brings the next question."""
        judged = self.question.judge(self.drill.key, note, self._labels)
        if not self._tries:
            self._count(judged)
        self._tries += 1
        self.outcome = judged.verdict
        self.words = judged.words if self._tries >= SHOWN_AFTER else judged.hint or judged.words
        if judged.verdict == "right":
            self._turn()
        return judged

    def time_up(self) -> None:
        """The question's time is over: the next one comes. Unplayed, it was missed."""
        if not self._tries:
            key = self.drill.key
            name = key.spell(self.question.note).name
            words = f"missed: {self.label} is {name}, the {self.name}"
            self.outcome, self.words = "missed", words
            self._count(Judgement("wrong", words))
        self._turn()

    def leave(self) -> None:
        """Another question, and nothing counted."""
        self.outcome, self.words = "", ""
        self._turn()

    def _count(self, judged: Judgement) -> None:
        self.score = self.score.after(right=judged.verdict == "right")
        if self.question.place is not None:
            self.drill = after(self.drill, self.question.place, judged.verdict)

    def _turn(self) -> None:
        self._tries = 0
        self._settled = self.drill
        self.question = self._next(self.question)

    def _next(self, before: Question | None) -> Question:
        return next_question(self.drill, self._asks, self._chords, before, self._chance)
