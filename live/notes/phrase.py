"""Phrases as data: the call, the brief for the composer, and the answer's choices.

All are frozen and can be pickled, so they cross process borders as they are.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from live.clock.metre import Metre
from live.notes.taste import Taste
from live.theory.keys import Key
from live.theory.progressions import Progression

AnswerState = Literal["idle", "listening", "composing", "ready", "playing", "held"]
"""What the answer is doing, in a word."""


@dataclass(frozen=True, slots=True)
class PhraseNote:
    """One note of a phrase.

    Args:
        onset_ticks: start, from the phrase's first bar line, 0 or more.
        length_ticks: 1 or more.
        pitch: MIDI note number 0 to 127 (C4 = 60), as it sounded.
        velocity: 1 to 127.
    """

    onset_ticks: int
    length_ticks: int
    pitch: int
    velocity: int


@dataclass(frozen=True, slots=True)
class Call:
    """What the player played in the call bars.

    Args:
        notes: ordered by onset, then pitch; may be empty.
        bars: length in bars, 1 or more.
        first_bar: bars at the call's first bar line since the progression began: with the song,
            or with a section of it (in free form a call may have begun before: then below 0).
        number: counts calls since the start; a later call has a higher number.
        partial: True while the call still sounds (an early look for the composer).
        is_bass: most of it was played as a bass line, to be answered in kind.
    """

    notes: tuple[PhraseNote, ...]
    bars: int
    first_bar: int = 0
    number: int = 0
    partial: bool = False
    is_bass: bool = False


@dataclass(frozen=True, slots=True)
class Brief:
    """Everything the composer may know about the answer that is wanted.

    Args:
        call: the phrase to answer.
        key: the key in force.
        answer_bars: length of the answer, 1 to 16 bars.
        metre: time signature of call and answer.
        progression: chords by bar, repeating, from where the call's first bar is counted; None =
            infer from the call.
        groove: name of a groove, or rows of steps (`live.answer.groove_text`).
        low: lowest allowed MIDI note, inclusive.
        high: highest allowed MIDI note, inclusive, at least `low` + 12.
        max_velocity: loudest allowed velocity, 1 to 127.
        choices: how many ranked choices, 1 to 8.
        seed: any integer; the same brief with the same seed gives the same notes.
        tempo_bpm: quarter notes a minute, 20 to 400.
        taste: the controls.
        like: notes of an earlier answer; what is wanted is near them and yet another (empty =
            no such wish).
    """

    call: Call
    key: Key
    answer_bars: int = 2
    metre: Metre = field(default_factory=Metre)
    progression: Progression | None = None
    groove: str = "two-step"
    low: int = 28
    high: int = 55
    max_velocity: int = 96
    choices: int = 3
    seed: int = 0
    tempo_bpm: float = 168.0
    taste: Taste = field(default_factory=Taste)
    like: tuple[PhraseNote, ...] = ()

    @property
    def answer_first_bar(self) -> int:
        """The answer's first bar, counted as the call's."""
        return self.call.first_bar + self.call.bars


@dataclass(frozen=True, slots=True)
class Choice:
    """One answer the bass may play.

    Args:
        rank: 1 is the best.
        score: 0 to 1.
        reasons: short sentences in a musician's words.
        words: two short labels: what it does with the call, how it ends ("head", "up to 1").
        notes: from the answer's first bar line; ordered, never overlapping but for octave
            doubles, which begin and end with the note below.
    """

    rank: int
    score: float
    reasons: tuple[str, ...]
    words: tuple[str, str]
    notes: tuple[PhraseNote, ...]
