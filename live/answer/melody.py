"""Pitches in the call's own voice: what can be said of a note, of a step and of a line's flow.

Each feature has a weight in `voice_table`; `drawer` draws notes by them, tests/study/voice_fit.py
learns them.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import log
from typing import Final

from live.answer.cells import Features
from live.answer.dials import fitting
from live.answer.voice import OCTAVE, Voice

FARTHEST: Final = 8
"""Scale steps beyond which a move is not tried."""

TRITONE: Final = 6

_KINDS: Final = ("leap down", "skip down", "step down", "stay", "step up", "skip up", "leap up")


def kind_of(step: int) -> str:
    """What a musician calls a move of so many scale steps."""
    size = 0 if step == 0 else 1 if abs(step) == 1 else 2 if abs(step) <= 3 else 3
    return _KINDS[3 + (size if step > 0 else -size)]


def note_features(voice: Voice, tick: int, pitch: int, spot: str) -> Features:
    """What can be said of a note at a place, whatever surrounds it.

    Args:
        voice: the call's.
        tick: onset from the answer's first bar line.
        pitch: MIDI note.
        spot: "first", "last", "last but one" or "" for a note anywhere else.
    """
    found = pitch_features(voice, pitch) + place_features(voice, tick, pitch, first=spot == "first")
    return found + spot_features(voice, pitch, spot)


def pitch_features(voice: Voice, pitch: int) -> Features:
    """What can be said of a note wherever it stands."""
    apart = voice.rung(pitch) - voice.middle
    found: Features = [("note common in the call", voice.commonness(pitch))]
    found += [("far from the middle", abs(apart)), ("above the middle", apart)]
    if pitch in voice.pitches:
        found.append(("in the call", 1.0))
    if pitch > voice.high:
        found.append((f"above the call by {min(4, voice.step(voice.high, pitch))}", 1.0))
    if pitch < voice.low:
        found.append((f"below the call by {min(4, voice.step(pitch, voice.low))}", 1.0))
    return found


def spot_features(voice: Voice, pitch: int, spot: str) -> Features:
    """What can be said of a note because it is the first, the last or the last but one."""
    found: Features = [(f"{voice.degree_name(pitch)} {spot}", 1.0)] if spot else []
    if spot == "first":
        found.append((f"join {kind_of(voice.step(voice.last, pitch))}", 1.0))
        found.append(("join steps", min(9.0, abs(voice.step(voice.last, pitch)))))
        if pitch == voice.first:
            found.append(("begins as the call", 1.0))
    return found


def place_features(voice: Voice, tick: int, pitch: int, *, first: bool) -> Features:
    """Where a degree stands in the bar, and to what the call has there and in its other bar."""
    found: Features = [(degree_at(voice, pitch, level_of(voice, tick)), 1.0)]
    called, other = called_at(voice, tick)
    if called == pitch and first:
        found.append(("begins as called", 1.0))
    elif called is not None and called != pitch and (called - pitch) % OCTAVE == 0:
        found.append(("octave of the call", 1.0))
    if other == pitch and voice.call_bars > 1:
        found.append(("as the other bar", 1.0))
    return found


def degree_at(voice: Voice, pitch: int, level: str) -> str:
    """The name of a note's degree in a place of a level."""
    return f"{voice.degree_name(pitch)} {level}"


def level_of(voice: Voice, tick: int) -> str:
    """How heavy a place in the bar is: the "one", a "beat", or "off" the beat."""
    offset = tick % voice.bar_ticks
    return "one" if offset == 0 else "beat" if offset % voice.beat_ticks == 0 else "off"


def called_at(voice: Voice, tick: int) -> tuple[int | None, int | None]:
    """The call's note at a place, and at the same place of the bar after.

    Of a note in the class of neither there is nothing to say but its degree and its place.
    """
    span = voice.call_bars * voice.bar_ticks
    return voice.line.get(tick % span), voice.line.get((tick + voice.bar_ticks) % span)


def step_features(before: int | None, step: int) -> Features:
    """What can be said of a step after a step (None for the first), in scale steps."""
    found: Features = [(f"step {step:+d}", 1.0)]
    if before is None:
        return found
    found.append((f"{kind_of(before)}, {kind_of(step)}", 1.0))
    if step and step == before:
        found.append(("same step again", 1.0))
    if step and step == -before:
        found.append(("back where it was", 1.0))
    return found


def size_features(voice: Voice, step: int) -> Features:
    """How common a step's size is in the call."""
    total = sum(voice.sizes.values())
    return [("size common in the call", log((voice.sizes[abs(step)] + 0.3) / (total + 2)))]


_AFTER: Final = {
    said: tuple(f"{said} after {count}" for count in range(4))
    for said in ("as called", "step as called", "as a bar before", "step as a bar before")
}
"""Names of what goes on, by how many notes it has gone on for, 3 and more."""


Rule = tuple[bool, int, str]
"""A feature that the next note has: if the step to it (True) or its pitch (False) is the value."""


class Flow:
    """A line as it grows: what the next note would take up from the call or from the line itself.

    Args:
        voice: the call's.
        ticks: all onsets of the line, ascending.
    """

    def __init__(self, voice: Voice, ticks: Sequence[int]) -> None:
        self._voice = voice
        span = voice.call_bars * voice.bar_ticks
        self._called = [voice.line.get(tick % span) for tick in ticks]
        number = {tick: number for number, tick in enumerate(ticks)}.get
        self._mates = [number(tick - voice.bar_ticks) for tick in ticks]
        self.path: list[int] = []
        self.rungs: list[int] = []
        self._as_called = self._along = self._as_before = self._step_as_before = 0

    def rules(self) -> list[Rule]:
        """What the next note may be, by name; only after a first note."""
        voice, path, number = self._voice, self.path, len(self.path)
        here = path[-1]
        found: list[Rule] = []
        wanted = self._called_step(number)
        if wanted is not None:
            found.append((True, wanted, _AFTER["step as called"][min(3, self._along)]))
            if wanted:
                found.append((True, -wanted, "step turned over"))
        called = self._called[number]
        if called is not None:
            found.append((False, called, _AFTER["as called"][min(3, self._as_called)]))
        mate = self._mates[number]
        if mate is not None:
            name = _AFTER["as a bar before"][min(3, self._as_before)]
            found.append((False, path[mate], name))
            step = self._step_before(number, mate)
            if step is not None:
                name = _AFTER["step as a bar before"][min(3, self._step_as_before)]
                found.append((True, step, name))
        found += ((False, here + TRITONE, "tritone"), (False, here - TRITONE, "tritone"))
        for pitch in voice.follows.get(here, ()):
            found.append((False, pitch, "two notes of the call"))
            if number > 1 and (path[-2], here, pitch) in voice.threes:
                found.append((False, pitch, "three notes of the call"))
        return found

    def add(self, pitch: int) -> None:
        """The next note is this one."""
        number, rung = len(self.path), self._voice.rung(pitch)
        self._as_called = self._as_called + 1 if self._called[number] == pitch else 0
        mate = self._mates[number]
        self._as_before = (
            self._as_before + 1 if mate is not None and self.path[mate] == pitch else 0
        )
        if number:
            step = rung - self.rungs[-1]
            self._along = self._along + 1 if self._called_step(number) == step else 0
            like = mate is not None and self._step_before(number, mate) == step
            self._step_as_before = self._step_as_before + 1 if like else 0
        self.path.append(pitch)
        self.rungs.append(rung)

    def _called_step(self, number: int) -> int | None:
        """The call's step into the place of a note, if it has notes at both places."""
        now, then = self._called[number], self._called[number - 1]
        return None if now is None or then is None else self._voice.step(then, now)

    def _step_before(self, number: int, mate: int) -> int | None:
        """The step into the note one bar earlier, if it too has a mate."""
        then = self._mates[number - 1]
        if then is None or mate != then + 1:
            return None
        return self.rungs[mate] - self.rungs[then]


def arrival_features(step: int, *, beat: str, last: bool) -> Features:
    """What can be said of a step by where it arrives: on a "beat", a "dotted beat" or off ("")."""
    found: Features = [(f"into the {beat} {kind_of(step)}", 1.0)] if beat else []
    return found + ([(f"into the last {kind_of(step)}", 1.0)] if last else [])


def spot_of(number: int, count: int) -> str:
    """The name of a note's place among `count` notes."""
    if number == count - 1:
        return "last"
    if number == count - 2:
        return "last but one"
    return "first" if number == 0 else ""


def within(step: int) -> int:
    """The step, or the farthest one that is told apart."""
    return max(-FARTHEST, min(FARTHEST, step))


def allowed(voice: Voice, tick: int) -> list[int]:
    """The notes that may stand at a place: in range and key or chord, chord tones where strong."""
    fit = fitting(voice.scene, tick)
    brief = voice.scene.brief
    return [pitch for pitch in range(brief.low, brief.high + 1) if pitch % OCTAVE in fit]
