"""The snapshot: all that a face may know, as one frozen value that crosses the link as JSON."""

from __future__ import annotations

import dataclasses
import json
from dataclasses import dataclass, field
from typing import Any, Literal

from live.notes.phrase import AnswerState
from live.notes.taste import Taste
from live.practice.questions import Asks

ClockState = Literal["running", "stopped", "lost"]


@dataclass(frozen=True, slots=True)
class NoteView:
    """A note of a phrase on the phrase's own time axis.

    Args:
        onset_beats: from the phrase's first bar line.
        length_beats: None while the note is still held.
        pitch: MIDI note that sounded, 0 to 127.
    """

    onset_beats: float
    length_beats: float | None
    pitch: int


@dataclass(frozen=True, slots=True)
class ChoiceView:
    """One of the answers on offer: rank (1 best), score 0..1, two words, reasons, notes."""

    rank: int
    score: float
    words: tuple[str, str]
    reasons: tuple[str, ...]
    notes: tuple[NoteView, ...]


@dataclass(frozen=True, slots=True)
class PortView:
    """One of our ports: role (`keys in`, `through`...), full name, state in a word, reason."""

    role: str
    name: str
    state: str
    reason: str = ""


@dataclass(frozen=True, slots=True)
class RoutingRow:
    """One way through: what of an input goes where, and what is done with it.

    Args:
        kind: `zone`, `route` or `answer`.
        name: a zone's or route's name, "" = our own.
        input: label, or words.
        takes: which part of the input, in words.
        does: what is done with it, in words.
        output: label, "" = it goes nowhere.
        channel: it leaves on this MIDI channel, 1 to 16; 0 = on the one it came on.
    """

    kind: str
    name: str
    input: str
    takes: str
    does: str
    output: str
    channel: int


@dataclass(frozen=True, slots=True)
class HeldView:
    """A key that is down: the note pressed and the note that sounds for it (None = silent)."""

    pressed: int
    sounding: int | None


@dataclass(frozen=True, slots=True)
class Hearing:
    """What is made of the playing, drums left out."""

    keys: tuple[tuple[str, float], ...] = ()  # the likeliest three, each with its chance
    proposed_key: str = ""  # another key than the one set, heard for certain; "" = none
    chord: str = ""  # what the player holds, `Dm(add9)`; "" = no chord
    numeral: str = ""  # that chord in the key, `i(add9)`
    low_end: str = ""  # of chord and answer: "clear", "thick", "muddy"; "" = too few notes
    low_end_reason: str = ""
    low_end_advice: str = ""  # the smallest move that clears it


@dataclass(frozen=True, slots=True)
class DrillView:
    """A practice of degrees; `on` False = there is none."""

    on: bool = False
    asks: Asks = "degrees"  # what a drill asks for, whether one runs or not
    label: str = ""  # what is asked: the degree `b3`, or the part `5` of a chord; `?` = by ear
    chord: str = ""  # that chord as it is written, `iv`; "" = a degree of the key is asked
    name: str = ""  # what that degree does: `mediant`; "" while it is to be found by ear
    outcome: Literal["right", "close", "wrong", "missed", ""] = ""  # of the last note
    words: str = ""  # that judgement in a sentence
    shown: int | None = None  # pitch class of the right note after two tries, else None
    right: int = 0  # first tries that were right, of `asked`
    asked: int = 0
    in_a_row: int = 0
    weak: str = ""  # the degree missed most, "" = none


@dataclass(frozen=True, slots=True)
class Snapshot:
    """The whole visible state at one moment. Beats are quarter notes; bars count from 1."""

    key: str
    snap: str
    labels: str  # "major" (1 2 b3 ...) or "plain" (1 2 3 ...)
    progression: str
    progression_bar: int  # 1-based place in the progression, 0 when there is none
    progression_bars: int
    chord: str  # "" when there is none
    tempo: float
    clock: str  # "internal" or "following"
    clock_state: ClockState
    playing: bool
    bar: int  # 1-based since the start
    beat: float  # 1-based within the bar, in units of the metre's lower number
    metre: str
    call_bars: int
    answer_bars: int
    free: bool
    phrase: Literal["call", "answer", ""]  # which part of the form is running now
    phrase_beats: float  # playhead within that part, in beats from its first bar line
    call: tuple[NoteView, ...]
    answer: tuple[NoteView, ...]
    choices: tuple[ChoiceView, ...]
    chosen: int  # rank of the chosen choice, 0 = none
    answer_state: AnswerState
    held: tuple[HeldView, ...]  # in the order they were pressed
    sounding: tuple[int, ...]  # every note we have sent on and not yet off, answer left out
    answer_sounding: tuple[int, ...]  # likewise, on the answer port
    inputs: tuple[PortView, ...]
    outputs: tuple[PortView, ...]
    lost: int
    late_answers: int
    late_ms_p99: float
    notice: str = ""  # one sentence for the player (an error, a warning), "" = none
    panics: int = 0  # counts panics, so that a face can show that one just happened
    hearing: Hearing = field(default_factory=Hearing)
    own_scales: tuple[str, ...] = ()  # names of the player's own scales
    kept: int = 0  # phrases that teach the answers of this sketch
    groove: str = ""  # its name, or its rows of steps
    taste: Taste = field(default_factory=Taste)  # the answer's controls
    drill: DrillView = field(default_factory=DrillView)
    section: str = ""  # of the song plan, "" = there is none
    section_bar: int = 0  # 1-based place in it; beyond its length when the last section stays
    section_bars: int = 0
    next_section: str = ""  # "" = this one stays
    song_repeats: bool = True  # after the last section the plan begins again
    first_note_starts: bool = True  # the stopped transport, by our own clock
    answers: bool = True  # the bass answers
    theme: str = "auto"  # the window's tones as set: "auto", "light" or "dark"
    on_top: bool = True  # it stays above others
    routing: tuple[RoutingRow, ...] = ()  # zones in their order, then routes, then the answer
    routing_notes: tuple[str, ...] = ()  # what is worth knowing of it, a sentence each

    def to_json(self) -> str:
        """One line of JSON."""
        return json.dumps(dataclasses.asdict(self), separators=(",", ":"), ensure_ascii=False)


def snapshot_from_json(text: str) -> Snapshot:
    """Read `Snapshot.to_json` back; unknown fields are ignored.

    Raises: ValueError or KeyError or TypeError if the text is not a snapshot.
    """
    raw: dict[str, Any] = json.loads(text)
    known = {f.name for f in dataclasses.fields(Snapshot)}
    values = {name: value for name, value in raw.items() if name in known}
    notes = ("call", "answer")
    for name in notes:
        values[name] = tuple(NoteView(**n) for n in values[name])
    values["choices"] = tuple(
        ChoiceView(
            c["rank"],
            c["score"],
            (c["words"][0], c["words"][1]),
            tuple(c["reasons"]),
            tuple(NoteView(**n) for n in c["notes"]),
        )
        for c in values["choices"]
    )
    values["held"] = tuple(HeldView(**h) for h in values["held"])
    values["routing"] = tuple(RoutingRow(**row) for row in values["routing"])
    for name in ("sounding", "answer_sounding", "own_scales", "routing_notes"):
        values[name] = tuple(values[name])
    values["hearing"] = _hearing(values["hearing"])
    values["drill"] = DrillView(**values["drill"])
    values["taste"] = Taste(**values["taste"])
    for name in ("inputs", "outputs"):
        values[name] = tuple(PortView(**p) for p in values[name])
    return Snapshot(**values)


def _hearing(raw: dict[str, Any]) -> Hearing:
    known = {f.name for f in dataclasses.fields(Hearing)}
    values = {name: value for name, value in raw.items() if name in known}
    return Hearing(**{**values, "keys": tuple((key, chance) for key, chance in raw["keys"])})
