"""The engine's settings: one frozen value, built by the daemon from the settings table."""

from __future__ import annotations

from dataclasses import dataclass, field

from live.clock.metre import Metre
from live.notes.form import Form
from live.notes.zones import Zone
from live.theory.keys import Key
from live.theory.progressions import Progression


@dataclass(frozen=True, slots=True)
class AnswerConfig:
    """How the bass answers.

    Args:
        enabled: False = the engine only listens.
        groove: name of a groove.
        low, high: MIDI range of the answer, inclusive.
        max_velocity: 1 to 127.
        choices: 1 to 8.
        seed: any integer.
        channel: 0 to 15.
        cutoff_ms: how long before its bar line the answer is composed for good.
    """

    enabled: bool = True
    groove: str = "two-step"
    low: int = 28
    high: int = 55
    max_velocity: int = 96
    choices: int = 3
    seed: int = 0
    channel: int = 0
    cutoff_ms: int = 150


@dataclass(frozen=True, slots=True)
class EngineConfig:
    """All the engine needs to know.

    Args:
        key: the key in force.
        snap: a snap policy's name.
        progression: chords by bar, None = none.
        tempo_bpm: tempo of our own clock, 20 to 400.
        metre: time signature.
        form: bars of call and answer.
        zones: first match wins; may be empty.
        follow_clock: follow MIDI clock that comes in.
        start_on_first_note: the first note of a call starts a stopped transport.
        silence_beats: in free form, the pause in beats that ends a call.
    """

    key: Key
    snap: str = "nearest"
    progression: Progression | None = None
    tempo_bpm: float = 168.0
    metre: Metre = field(default_factory=Metre)
    form: Form = field(default_factory=Form)
    zones: tuple[Zone, ...] = ()
    follow_clock: bool = True
    start_on_first_note: bool = True
    silence_beats: float = 2.0
    answer: AnswerConfig = field(default_factory=AnswerConfig)
