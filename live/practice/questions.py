"""What a practice may ask: a degree of the key, or a tone of a chord of the progression. Pure."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

from live.practice.drill import Drill, Judgement, ask, asked_note, judge_note
from live.theory.chords import Chord
from live.theory.degrees import Style, degree_of
from live.theory.keys import Key

Asks = Literal["degrees", "chord tones", "both", "by ear"]
BY_EAR: Final = "by ear"
"""Degrees that are heard, not named."""
ASKS: Final[tuple[Asks, ...]] = ("degrees", "chord tones", "both", BY_EAR)

WrittenChord = tuple[str, Chord]
"""A chord and how it is written in the progression, `iv`."""


@dataclass(frozen=True, slots=True)
class Question:
    """A note that is asked for, in any octave.

    Args:
        note: a MIDI note of it.
        place: of its degree in the scale, 0 = tonic; None outside the scale.
        chord: the chord it is asked as a tone of, as written; "" = it is asked by its degree.
        role: its part in that chord, `R`, `b3`, `5`.
    """

    note: int
    place: int | None
    chord: str = ""
    role: str = ""

    def short(self, key: Key, labels: Style) -> str:
        """The degree, `b3`, or the part in the chord, `5`."""
        return self.role if self.chord else degree_of(self.note, key).label(labels)

    def label(self, key: Key, labels: Style) -> str:
        """What is asked: `b3`, or `5 of iv`."""
        if self.chord:
            return f"{'root' if self.role == 'R' else self.role} of {self.chord}"
        return self.short(key, labels)

    def name(self, key: Key) -> str:
        """What the asked degree does: `mediant`."""
        return degree_of(self.note, key).name

    def judge(self, key: Key, note: int, labels: Style) -> Judgement:
        """Judge a note played to it."""
        target = f"{self.label(key, labels)} is {key.spell(self.note).name}"
        return judge_note(key, self.note, note, (target, self.name(key)), labels)


def next_question(
    drill: Drill,
    asks: Asks,
    chords: Sequence[WrittenChord],
    before: Question | None,
    chance: random.Random,
) -> Question:
    """The next question, never the same note twice in a row.

    Args:
        drill: weak degrees are asked more often.
        asks: what may be asked; without chords only degrees are.
        chords: of the progression.
        before: the question before.
        chance: chooses.
    """
    of_chord = chords and (asks == "chord tones" or (asks == "both" and chance.random() < 0.5))
    if not of_chord:
        place = ask(replace(drill, last=before.place if before else None), chance)
        return Question(asked_note(drill.key, place), place)
    found = [
        _tone(drill.key, chord, pitch_class)
        for chord in chords
        for pitch_class in sorted(chord[1].pitch_classes)
    ]
    others = [one for one in found if before is None or (one.note - before.note) % 12]
    return chance.choices(others, [_weight(drill, one) for one in others])[0]


def _tone(key: Key, chord: WrittenChord, pitch_class: int) -> Question:
    text, sounding = chord
    step = (pitch_class - key.tonic_pc) % 12
    place = key.scale.steps.index(step) if step in key.scale.steps else None
    note = asked_note(key, 0) + step
    return Question(note, place, text, sounding.role(note))


def _weight(drill: Drill, question: Question) -> float:
    """Weak degrees come more often; a note outside the scale like one never asked."""
    return 0.5 if question.place is None else drill.tallies[question.place].weakness
