"""The engine's settings: one frozen value, checked when it is made, so that none fails later."""

from __future__ import annotations

from dataclasses import dataclass, field

from live.clock.metre import Metre
from live.clock.transport import check_tempo
from live.notes.cues import Cue
from live.notes.form import Form
from live.notes.lights import LightsConfig
from live.notes.routes import Route
from live.notes.song import Song
from live.notes.taste import Taste
from live.notes.zones import Zone
from live.theory.errors import FieldError
from live.theory.keys import Key
from live.theory.progressions import Progression
from live.theory.snap import find_policy


@dataclass(frozen=True, slots=True)
class AnswerConfig:
    """How the bass answers.

    Args:
        enabled: False = the engine only listens.
        groove: name of a groove.
        low, high: MIDI range of the answer, inclusive, 0 to 127, an octave apart or more.
        max_velocity: 1 to 127.
        choices: 1 to 8.
        seed: any integer.
        channel: 0 to 15.
        cutoff_ms: how long before its bar line the answer is composed for good, 0 or more.
        taste: the controls of the answer.
    Raises: FieldError.
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
    taste: Taste = field(default_factory=Taste)

    def __post_init__(self) -> None:
        if not 0 <= self.low <= self.high - 12 <= 127 - 12:
            got = (self.low, self.high)
            raise FieldError("answer range", "two notes an octave or more apart, 0 to 127", got)
        for name, value, low, high in (
            ("loudest velocity", self.max_velocity, 1, 127),
            ("choices", self.choices, 1, 8),
            ("answer channel", self.channel, 0, 15),
            ("cutoff", self.cutoff_ms, 0, 60_000),
        ):
            if not low <= value <= high:
                raise FieldError(name, f"{low} to {high}", value)


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
        song: the plan of sections, None = none; the values here are those without a section.
        first_bar: the bar from which form and progression are counted: a section's first one.
        end_bar: the bar at whose line the section ends; None = it does not.
        key_on_bar: a key set by hand lands on the next bar line while we play, else at once.
        cues: messages of the controller that give commands; first match wins.
        routes: what is copied beside the zones, or instead of them.
        outputs: labels of the outputs beyond `through` and `answer`.
        follow_clock: follow MIDI clock that comes in.
        lead_clock: send MIDI clock while we follow none.
        start_on_first_note: the first note of a call starts a stopped transport.
        silence_beats: in free form, the pause in beats that ends a call, above 0 to 64.
        answer: how the bass answers.
        lights: how lights show the key; whether there are any is the port's affair.
    Raises: FieldError.
    """

    key: Key
    snap: str = "nearest"
    progression: Progression | None = None
    tempo_bpm: float = 168.0
    metre: Metre = field(default_factory=Metre)
    form: Form = field(default_factory=Form)
    zones: tuple[Zone, ...] = ()
    song: Song | None = None
    first_bar: int = 0
    end_bar: int | None = None
    key_on_bar: bool = False
    cues: tuple[Cue, ...] = ()
    routes: tuple[Route, ...] = ()
    outputs: tuple[str, ...] = ()
    follow_clock: bool = True
    lead_clock: bool = False
    start_on_first_note: bool = True
    silence_beats: float = 2.0
    answer: AnswerConfig = field(default_factory=AnswerConfig)
    lights: LightsConfig = field(default_factory=LightsConfig)

    def __post_init__(self) -> None:
        check_tempo(self.tempo_bpm)
        find_policy(self.snap)
        if not 0 < self.silence_beats <= 64:  # also refuses NaN
            raise FieldError("silence", "above 0, at most 64 beats", self.silence_beats)
