"""All that can be asked of the daemon from the window: words, shortcuts, hints, steps. Pure."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final, Literal

from live.clock.units import MAX_TEMPO_BPM, MIN_TEMPO_BPM
from live.daemon.snapshot import Snapshot
from live.faces.window import music
from live.notes.form import BAR_COUNTS
from live.theory.errors import FieldError
from live.theory.keys import Key, parse_key
from live.theory.own_scales import written
from live.theory.pitch import pretty
from live.theory.scales import SCALES
from live.theory.snap import POLICIES

Field = Literal["key", "snap", "progression", "tempo", "form"]
Command = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Value:
    """A value at the foot: its command, its function key, and what may be typed."""

    field: Field
    shortcut: str
    hint: str


@dataclass(frozen=True, slots=True)
class Action:
    """A word at the foot that does something at once."""

    word: str
    shortcut: str
    meaning: str


VALUES: Final = (
    Value("key", "F1", "A tonic and a scale: D minor, F# dorian, Bb major"),
    Value("snap", "F2", f"One of: {', '.join(POLICIES)}"),
    Value("progression", "F3", "i VI iv v, or Dm:2 Bb:1 C:1; a bar each unless a length follows"),
    Value(
        "tempo", "F4", f"Quarter notes a minute, {MIN_TEMPO_BPM:g} to {MAX_TEMPO_BPM:g} inclusive"
    ),
    Value("form", "F5", "Bars of call and of answer, such as 2 2; or free"),
)
ACTIONS: Final = (
    Action("start", "Space", "start or stop our own clock"),
    Action("again", "F6", "another answer to the same call; in a drill by ear, the note again"),
    Action("keep", "F7", "keep this answer and learn from it"),
    Action("hold", "F8", "repeat this answer until told otherwise"),
    Action("panic", "Esc", "release every note at once"),
)


def typed(field: Field, text: str) -> Command:
    """The command for a value as typed; the daemon checks it."""
    if field == "form":
        return ("form", *re.findall(r"[\w.-]+", text)) if text.strip() else ("form", "")
    return (field, text.strip())


_TONICS: Final = tuple(f"{letter}{sign}" for letter in "CDEFGAB" for sign in ("", "#", "b"))


def names(field: Field, snapshot: Snapshot) -> tuple[str, ...]:
    """What completes a value while it is typed, the player's own scales first."""
    if field == "snap":
        return POLICIES
    if field != "key":
        return ()
    scales = (*snapshot.own_scales, *(scale.name for scale in SCALES))
    return tuple(f"{tonic} {scale}" for scale in scales for tonic in _TONICS)


def hint(value: Value, snapshot: Snapshot) -> str:
    """What may be typed; with a key proposed, that it stands there to be taken."""
    proposed = snapshot.hearing.proposed_key
    if value.field == "key" and proposed:
        return f"Return takes {pretty(proposed)}. {value.hint}"
    return value.hint


def shown(field: Field, snapshot: Snapshot) -> str:
    """The value as it is typed; of the key, the one that is proposed if there is one."""
    if field == "key":
        return snapshot.hearing.proposed_key or snapshot.key
    if field == "form":
        return "free" if snapshot.free else f"{snapshot.call_bars} {snapshot.answer_bars}"
    if field == "tempo":
        return f"{snapshot.tempo:.1f}"
    return {"snap": snapshot.snap, "progression": snapshot.progression}[field]


def stepped(field: Field, snapshot: Snapshot, way: int, *, fine: bool = False) -> Command | None:
    """The command for one step up (`way` 1) or down (-1); None where there are no steps.

    A key moves by a semitone, the tempo by 1 (by 0.1 if `fine`), snap and form along their lists.
    """
    if field == "key":
        return ("key", _next_key(snapshot.key, way))
    if field == "tempo":
        tempo = snapshot.tempo + way * (0.1 if fine else 1.0)
        return ("tempo", f"{min(max(tempo, MIN_TEMPO_BPM), MAX_TEMPO_BPM):.1f}")
    if field == "snap":
        place = POLICIES.index(snapshot.snap) if snapshot.snap in POLICIES else 0
        return ("snap", POLICIES[(place - way) % len(POLICIES)])
    if field == "form":
        return _next_form(snapshot, way)
    return None


def _next_form(snapshot: Snapshot, way: int) -> Command:
    """Equal parts of 1, 2, 4, 8 bars; free lies below one bar."""
    sizes = (0, *BAR_COUNTS)
    now = 0 if snapshot.free else snapshot.call_bars
    near = min(range(len(sizes)), key=lambda index: abs(sizes[index] - now))
    size = sizes[min(max(near + way, 0), len(sizes) - 1)]
    return ("form", "free") if size == 0 else ("form", str(size), str(size))


def _next_key(name: str, way: int) -> str:
    """The key a semitone away, in the spelling with the fewer sharps or flats."""
    key = music.key_named(name)
    wanted = (key.tonic_pc + way) % 12
    found = [
        candidate
        for letter in "CDEFGAB"
        for sign in ("", "#", "b")
        for candidate in _parsed(f"{letter}{sign} {written(key.scale)}")
        if candidate.tonic_pc == wanted
    ]
    return min(found, key=_signs).name


def _parsed(text: str) -> tuple[Key, ...]:
    try:
        return (parse_key(text),)
    except FieldError:
        return ()


def _signs(key: Key) -> tuple[int, int]:
    spelled = [key.spell(60 + pitch_class) for pitch_class in sorted(key.pitch_classes)]
    return sum(abs(spelling.alter) for spelling in spelled), abs(key.tonic.alter)


def transport(snapshot: Snapshot) -> Command:
    """Start or stop, whichever comes next."""
    return ("stop",) if snapshot.playing else ("start",)
