"""What the foot shows, and how much of it for the room there is. Pure: no Qt here."""

from __future__ import annotations

from dataclasses import dataclass

from live.daemon.snapshot import Snapshot
from live.faces.window import music, words
from live.faces.window.controls import Field
from live.practice.questions import BY_EAR
from live.theory.pitch import pretty

Run = tuple[str, bool]


@dataclass(frozen=True, slots=True)
class ValueView:
    """A value as runs of (text, bold), and a dim word after it."""

    field: Field
    runs: tuple[Run, ...]
    note: str
    keep_note: bool = False

    @property
    def text(self) -> str:
        """The value without the word."""
        return " ".join(text for text, _ in self.runs)


@dataclass(frozen=True, slots=True)
class FootView:
    """Five values from left to right, and which of the actions are on."""

    values: tuple[ValueView, ...]
    playing: bool = False
    startable: bool = True
    held: bool = False
    answered: bool = False
    again: bool = False


def foot_view(snapshot: Snapshot) -> FootView:
    """The foot of a snapshot."""
    drill = snapshot.drill
    ill = snapshot.clock == "following" and snapshot.clock_state != "running"
    return FootView(
        values=(
            ValueView("key", ((music.key_named(snapshot.key).pretty, True),), "key"),
            ValueView("snap", ((snapshot.snap, True),), "snap"),
            ValueView("progression", _progression(snapshot), words.place_words(snapshot)),
            ValueView(
                "tempo", ((f"{snapshot.tempo:.1f}", True),), words.clock_words(snapshot), ill
            ),
            _form(snapshot),
        ),
        playing=snapshot.playing,
        startable=snapshot.clock == "internal" or snapshot.clock_state == "lost",
        held=snapshot.answer_state == "held",
        answered=bool(snapshot.answer),
        again=drill.asks == BY_EAR if drill.on else bool(snapshot.answer),
    )


def _form(snapshot: Snapshot) -> ValueView:
    if snapshot.free:
        return ValueView("form", (("free", True),), "form")
    return ValueView("form", ((f"{snapshot.call_bars} + {snapshot.answer_bars}", True),), "bars")


def _progression(snapshot: Snapshot) -> tuple[Run, ...]:
    """The chords, the one that sounds now in bold."""
    if not snapshot.progression:
        return ((pretty(snapshot.chord) or "chords", bool(snapshot.chord)),)
    progression = music.progression_named(snapshot.progression, snapshot.key)
    now = -1
    if snapshot.progression_bar:
        now = progression.stretch_index_at(snapshot.progression_bar - 1)
    return tuple(
        (pretty(stretch.text), now in (index, -1))
        for index, stretch in enumerate(progression.stretches)
    )


def notes_to_drop(compact: bool) -> tuple[tuple[Field, ...], ...]:  # noqa: FBT001 - a plain fact
    """Which dim words to leave out, step by step, until the foot fits its room."""
    first: tuple[Field, ...] = ("key", "snap")
    if compact:
        return (
            (*first, "form"),
            (*first, "form", "progression"),
            (*first, "form", "progression", "tempo"),
        )
    return ((), first, (*first, "form"), (*first, "form", "progression"))
