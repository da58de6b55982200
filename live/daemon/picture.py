"""Makes the snapshot that faces see from what the settings and the engine say."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass, field, replace
from typing import Any, Final

from live.clock.metre import parse_metre
from live.daemon.engine_view import EngineView, PlainNote
from live.daemon.hearing import Listening, heard_groove, sure_key
from live.daemon.practising import snap_in_drill
from live.daemon.routing import routing_notes, routing_rows
from live.daemon.settings import Settings, taste_of
from live.daemon.snapshot import (
    ChoiceView,
    DrillView,
    HeldView,
    NoteView,
    PortView,
    RoutingRow,
    Snapshot,
)
from live.notes.ear import ALL, OFF, Heard
from live.notes.harmony import Harmony
from live.theory.errors import FieldError
from live.theory.keys import Key, parse_key
from live.theory.progressions import parse_progression

NOTHING_YET = EngineView(
    playing=False,
    following=False,
    clock_state="stopped",
    tempo_bpm=0.0,
    tick=0.0,
    anchor_ns=0,
    phrase="",
    phrase_beats=0.0,
    call=(),
    choices=(),
    chosen=0,
    answer_state="idle",
    held=(),
    sounding=(),
    answer_sounding=(),
    lost=0,
    late_answers=0,
    late_ms_p99=0.0,
    panics=0,
    chord_notes=(),
    drums=(),
)
"""The view before the engine has spoken, and while it is being started again."""

_AS_SEEN: Final = (
    "clock_state",
    "playing",
    "phrase",
    "chosen",
    "answer_state",
    "sounding",
    "answer_sounding",
    "late_answers",
    "late_ms_p99",
)
"""What the snapshot shows as the engine's view has it."""


@dataclass(slots=True)
class Picture:
    """All that goes into a snapshot. Owner: the supervisor's main thread."""

    settings: Settings
    view: EngineView = NOTHING_YET
    inputs: tuple[PortView, ...] = ()
    outputs: tuple[PortView, ...] = ()
    notice: str = ""
    lost_before: int = 0  # counted by engines that have gone
    kept: int = 0  # phrases in the sketch's vocabulary
    drill: Callable[[], DrillView] = DrillView  # what is practised now
    _harmony: Harmony = field(init=False)
    _key: Key = field(init=False)
    _seen: tuple[str, str, str, int] = ("", "", "", 0)
    _listening: Listening = field(default_factory=Listening)
    _routing: tuple[RoutingRow, ...] = ()
    _routing_notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        self.use(self.settings)

    def use(self, settings: Settings) -> None:
        """Take new settings."""
        self.settings = settings
        self._routing, self._routing_notes = routing_rows(settings), routing_notes(settings)
        self._look()

    def _look(self) -> None:
        """See which key and chords are in force: the engine's word, else the settings."""
        settings, view = self.settings, self.view
        name, text = settings["play.key"], settings["play.progression"]
        if view.key:
            name, text = view.key, view.progression
        seen = (name, text, settings["time.metre"], view.first_bar)
        if seen != self._seen:
            self._seen = seen
            key = self._key = parse_key(name)
            progression = None
            if text.strip():
                with contextlib.suppress(FieldError):  # a cue's key may come before its chords
                    progression = parse_progression(text, key)
            self._harmony = Harmony(progression, parse_metre(seen[2]).bar_ticks, view.first_bar)

    def count_kept(self, phrases: int) -> None:
        """Take how many phrases are kept."""
        self.kept = phrases

    def snapshot(self) -> Snapshot:
        """The snapshot of this moment."""
        settings, view = self.settings, self.view
        shown, drill = self._played(), self.drill()
        section, section_bars, next_section = view.section
        return replace(
            shown,
            snap=snap_in_drill(shown.snap) if drill.on else shown.snap,
            notice=self.notice,
            panics=view.panics,
            hearing=self._listening.hear(view, self._key),
            own_scales=tuple(scale.name for scale in settings.scales),
            kept=self.kept,
            groove=view.groove or settings["answer.groove"],
            taste=taste_of(settings),
            drill=drill,
            section=section,
            section_bar=shown.bar - view.first_bar if section else 0,
            section_bars=section_bars,
            next_section=next_section,
            song_repeats=settings["song.repeat"],
            first_note_starts=settings["time.start_on_first_note"],
            answers=settings["answer.on"],
            theme=settings["window.theme"],
            on_top=settings["window.on_top"],
            routing=self._routing,
            routing_notes=self._routing_notes,
        )

    def _played(self) -> Snapshot:
        """What is played, in what key and where in the form."""
        self._look()
        settings, view = self.settings, self.view
        call_bars, answer_bars, free = self._form()
        metre = parse_metre(settings["time.metre"])
        bar = int(view.tick) // metre.bar_ticks
        place, bars = self._harmony.bar_at(view.tick)
        chord = self._harmony.chord_at(view.tick)
        choices = tuple(_choice(*choice) for choice in view.choices)
        return Snapshot(
            **{name: getattr(view, name) for name in _AS_SEEN},
            key=self._seen[0],
            snap=settings["play.snap"],
            labels=settings["play.labels"],
            progression=self._seen[1],
            progression_bar=place,
            progression_bars=bars,
            chord=chord.name if chord else "",
            tempo=round(view.tempo_bpm or settings["time.tempo"], 2),
            clock="following" if view.following else "internal",
            bar=bar + 1,
            beat=round((view.tick - bar * metre.bar_ticks) / metre.beat_ticks + 1, 3),
            metre=str(metre),
            call_bars=call_bars,
            answer_bars=answer_bars,
            free=free,
            phrase_beats=round(view.phrase_beats, 3),
            call=_notes(view.call),
            answer=choices[view.chosen - 1].notes if view.chosen else (),
            choices=choices,
            held=tuple(HeldView(pressed, sounding) for pressed, sounding in view.held),
            inputs=self.inputs,
            outputs=self.outputs,
            lost=self.lost_before + view.lost,
        )

    def _form(self) -> tuple[int, int, bool]:
        """Bars of call, bars of answer, free: as in force."""
        if self.view.key:
            return self.view.form
        settings = self.settings
        return settings["form.call_bars"], settings["form.answer_bars"], settings["form.free"]

    def engine_ended(self) -> None:
        """Nothing is known any more but what was lost; keys that were down are up."""
        self.lost_before += self.view.lost
        self.view = NOTHING_YET
        self.inputs = self.outputs = ()
        self.listen(((ALL, OFF),))

    def listen(self, heard: Iterable[Heard]) -> None:
        """Take in what the engine's ear put down."""
        self._listening.take(heard)

    def heard(self, what: str) -> str:
        """The `key` or the `groove` that is heard, as text; FieldError while there is none."""
        if what == "groove":
            return heard_groove(self.view, parse_metre(self.settings["time.metre"]))
        self._look()
        return sure_key(self._listening.hear(self.view, self._key))

    def status(self) -> dict[str, Any]:
        """What `tell status` answers: the snapshot's plain facts, notes as MIDI numbers."""
        snapshot = asdict(self.snapshot())
        snapshot["held"] = [held["pressed"] for held in snapshot["held"]]
        snapshot["sounding"] = sorted([*snapshot["sounding"], *snapshot.pop("answer_sounding")])
        return snapshot


def _choice(
    rank: int,
    score: float,
    words: tuple[str, str],
    reasons: tuple[str, ...],
    notes: tuple[PlainNote, ...],
) -> ChoiceView:
    return ChoiceView(rank, score, words, reasons, _notes(notes))


def _notes(notes: tuple[PlainNote, ...]) -> tuple[NoteView, ...]:
    return tuple(NoteView(*note) for note in notes)
