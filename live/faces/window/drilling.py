"""What the window shows while degrees are asked: the question large, the keys bare. Pure: no Qt.

The strip shows neither labels nor brightness then, for they would give the answer away; by ear the
degree itself is a question mark until it is found or shown.
"""

from __future__ import annotations

import dataclasses

from live.daemon.snapshot import Snapshot
from live.faces.window.degree import DegreeView
from live.faces.window.phrases import LanesView
from live.faces.window.strip import StripView
from live.notes.places import ANSWER
from live.practice.questions import BY_EAR
from live.theory.pitch import pretty


def asked_view(snapshot: Snapshot) -> DegreeView:
    """The degree that is asked, what it does, and the score."""
    drill = snapshot.drill
    label = pretty(drill.label)
    return DegreeView(
        label=label,
        name=f"{label} of {pretty(drill.chord)}" if drill.chord else drill.name or drill.asks,
        role=f"{drill.right} of {drill.asked} right" if drill.asked else "in any octave",
        pull=f"{drill.in_a_row} in a row" if drill.in_a_row > 1 else "",
        lit=True,
    )


def drill_lanes(view: LanesView, snapshot: Snapshot) -> LanesView:
    """Words where call and answer would be: the last judgement, and how to go on."""
    drill = snapshot.drill
    said = pretty(drill.words[:1].upper() + drill.words[1:])
    weak = f"Missed most: {pretty(drill.weak)}. " if drill.weak else ""
    how, end = "Play what is asked", "F12 ends the drill"
    if drill.asks == BY_EAR:
        how, end = "The key, a rest, then the note to play", "F6 again, F12 ends it"
        weak = weak or f"Heard on '{ANSWER}'. "
    return dataclasses.replace(
        view,
        call=(),
        answer=(),
        running="",
        playhead=None,
        state="",
        call_note=said or how,
        answer_note=f"{weak}{end}",
        names=("played", "drill"),
    )


def bare_strip(view: StripView, snapshot: Snapshot) -> StripView:
    """The keys alone; the label of a key that is down, and after two tries where it should be."""
    down = view.held | view.lit
    labels = tuple(text if note in down else "" for note, text in enumerate(view.labels))
    shown = snapshot.drill.shown
    moves: tuple[tuple[int, int | None], ...] = ()
    if shown is not None and snapshot.held:
        pressed = snapshot.held[-1].pressed
        moves = ((pressed, _nearest(pressed, shown)),)
    return dataclasses.replace(view, labels=labels, brightness=(1.0,) * 12, plain=True, moves=moves)


def _nearest(note: int, pitch_class: int) -> int:
    """The note of a pitch class nearest to another, among 0 to 127."""
    found = note + (pitch_class - note + 6) % 12 - 6
    return found + 12 if found < 0 else found - 12 if found > 127 else found
