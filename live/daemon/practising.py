"""Practice on the live path: what is asked now, and how the notes that come in answer it.

Nothing of it is on the path of a note: the engine's records are read as they come up. By ear the
engine is told what to sound, and when is its own affair.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Any, Final

from live.clock.metre import parse_metre
from live.clock.units import TICKS_PER_BEAT, ns_to_ticks
from live.daemon.engine_view import EngineView
from live.daemon.fields import read_range
from live.daemon.remembering import Remembering
from live.daemon.settings import Settings
from live.daemon.snapshot import DrillView
from live.notes.config import EngineConfig
from live.notes.dictation import felt_beat_ticks, first_tick
from live.notes.events import ANSWER, CLOCK_OUT, Dictate, Do
from live.notes.midi import DRUM_CHANNEL, NOTE_ON
from live.notes.record import Record
from live.practice.by_ear import dictated
from live.practice.drill import asked_degree
from live.practice.questions import BY_EAR
from live.practice.session import Practice
from live.theory.errors import FieldError
from live.theory.keys import parse_key
from live.theory.progressions import parse_progression
from live.theory.snap import IN_ORDER

KEPT_EVERY: Final = 8
"""Questions after which what was learned is written down (own choice)."""
HIDDEN: Final = "?"
"""The label of a degree that is to be found by ear."""
_ASKED_BY: Final = (
    "play.key", "play.labels", "play.progression", "practice.asks", "takes.folder",
)  # fmt: skip
_AFTER_BEATS: Final = 1.0
"""By ear, what was found has a beat to itself before the next question sounds."""


class Practising:
    """Runs practices one after another.

    Args:
        settings: key, labels, progression, what is asked and how long it stands.
        tell: takes a sentence for people.
        engine: takes what is to sound.
        unheard: says why nothing can be heard, "" if it can, or nobody knows.
        chance: chooses what is asked.
    Thread: the supervisor's main.
    """

    def __init__(
        self,
        settings: Settings,
        tell: Callable[[str], None],
        engine: Callable[[Dictate], object],
        unheard: Callable[[], str] = str,
        chance: random.Random | None = None,
    ) -> None:
        self._settings = settings
        self._tell, self._engine, self._unheard = tell, engine, unheard
        self._has_told = False
        self._chance = chance or random.Random()
        self._practice: Practice | None = None
        self._memory: Remembering | None = None
        self._kept = 0  # questions of this practice that are written down
        self._view: EngineView | None = None
        self._asked_bar = 0
        self._dictated: Dictate | None = None

    @property
    def is_on(self) -> bool:
        """True while degrees are asked."""
        return self._practice is not None

    def do(self, wish: str) -> Do | None:
        """`start`, `stop`, `pass` or `again`; FieldError when it cannot be done.

        Returns: what is left for the engine, beside other settings.
        """
        if wish == "again":
            return self._again()
        {"start": self.start, "stop": self.stop, "pass": self.leave}[wish]()
        return None

    def start(self) -> None:
        """Begin to ask, or begin again."""
        self.stop()
        settings = self._settings
        key = parse_key(settings["play.key"])
        text = settings["play.progression"].strip()
        stretches = parse_progression(text, key).stretches if text else ()
        by_ear = settings["practice.asks"] == BY_EAR
        self._memory = Remembering(settings, self._tell, by_ear=by_ear)
        self._practice = Practice(
            self._memory.drill(key),
            self._chance,
            labels=settings["play.labels"],
            asks=settings["practice.asks"],
            chords=[(stretch.text, stretch.chord) for stretch in stretches],
        )
        self._kept = 0
        self._ask()
        if by_ear and not self._has_told and (why := self._unheard()):
            self._has_told = True
            self._tell(why)

    def stop(self) -> None:
        """End it, and remember what was learned."""
        self._keep()
        self._practice = None
        if self._dictated is not None:
            self._dictated = None
            self._engine(Dictate(0, ()))

    def leave(self) -> None:
        """Ask something else; FieldError while nothing is asked."""
        if self._practice is None:
            raise FieldError("drill pass", "while a drill runs", "none runs")
        self._practice.leave()
        self._ask()

    def use(self, settings: Settings) -> None:
        """Take new settings; another key or another way of asking begins a new practice."""
        old, self._settings = self._settings, settings
        if self.is_on and any(settings[name] != old[name] for name in _ASKED_BY):
            self.start()

    def applied(self, config: EngineConfig) -> EngineConfig:
        """The engine's settings while degrees are asked: no snapping but by order, no answers.

        Nor a song plan: what is asked is asked in the settings' key.
        """
        if not self.is_on:
            return config
        return replace(
            config,
            snap=snap_in_drill(config.snap),
            zones=tuple(replace(zone, snap=None) for zone in config.zones),
            song=None,
            start_on_first_note=False,
            answer=replace(config.answer, enabled=False),
        )

    def follow(self, records: Iterable[Record]) -> None:
        """Judge the notes among the engine's records."""
        if self._practice is None:
            return
        for record in records:
            if _is_played(record):
                self._pass_bars(record.at_ns)
                self._practice.play(record.data[1])
                if self._practice.outcome == "right":
                    self._ask(record.at_ns, _AFTER_BEATS)
        self._keep_in_time()

    def look(self, view: EngineView) -> None:
        """Time has gone on."""
        before, self._view = self._view, view
        if before is not None and view.tick < before.tick - TICKS_PER_BEAT:
            self._asked_bar = self._bar()  # the transport began anew
        if self._practice is not None:
            self._pass_bars()

    def engine_began(self) -> None:
        """Another engine knows nothing of what was dictated."""
        if self._dictated is not None:
            self._engine(self._dictated)

    def view(self) -> DrillView:
        """What faces see."""
        practice = self._practice
        asks = self._settings["practice.asks"]
        if practice is None:
            return DrillView(asks=asks)
        weak, hidden = practice.weakest, practice.is_hidden
        labels = self._settings["play.labels"]
        return DrillView(
            on=True,
            asks=asks,
            label=HIDDEN if hidden else practice.question.short(practice.drill.key, labels),
            chord=practice.question.chord,
            name="" if hidden else practice.name,
            outcome=practice.outcome,
            words=practice.words,
            shown=practice.shown,
            right=practice.score.right,
            asked=practice.score.asked,
            in_a_row=practice.score.in_a_row,
            weak="" if weak is None else asked_degree(practice.drill.key, weak).label(labels),
        )

    def _pass_bars(self, at_ns: int | None = None) -> None:
        """In time: a question that has had its bars is over."""
        lasts, view = self._settings["practice.bars"], self._view
        if self._practice is None or not lasts or view is None or not view.playing:
            return
        if self._bar(at_ns) - self._asked_bar >= lasts:
            self._practice.time_up()
            self._ask(at_ns)
            self._keep_in_time()

    def _ask(self, at_ns: int | None = None, wait_beats: float = 0.0) -> None:
        """The question that stands has come. Its bars begin with this one.

        By ear they begin at the first bar line that does not come before the asked note.
        """
        tick = self._tick(at_ns)
        if self._practice is not None and self._practice.is_by_ear:
            settings, practice = self._settings, self._practice
            notes = dictated(
                practice.drill.key,
                practice.question.note,
                read_range(settings["answer.range"]),
                settings["answer.max_velocity"],
                self._chance,
            )
            self._dictated = Dictate(0, notes, wait_beats)
            self._engine(self._dictated)
            if self._view is not None and self._view.playing:
                tempo_bpm = self._view.tempo_bpm
                ahead = notes[-1].onset_ticks * felt_beat_ticks(tempo_bpm) // TICKS_PER_BEAT
                heard = first_tick(tick, wait_beats, tempo_bpm) + ahead
                tick = heard + self._bar_ticks - 1
        self._asked_bar = self._bar_of(tick)

    def _again(self) -> Do:
        if self._practice is None or not self._practice.is_by_ear:
            got = "none runs" if self._practice is None else "it asks by name"
            raise FieldError("drill again", "while a drill by ear runs", got)
        return Do(0, "again")

    def _bar(self, at_ns: int | None = None) -> int:
        """The bar of a time by the last view, of the view itself without one."""
        return self._bar_of(self._tick(at_ns))

    def _tick(self, at_ns: int | None) -> float:
        view = self._view
        if view is None:
            return 0.0
        if at_ns is None or not view.playing:
            return view.tick
        return view.tick + ns_to_ticks(at_ns - view.anchor_ns, view.tempo_bpm)

    def _bar_of(self, tick: float) -> int:
        return int(tick // self._bar_ticks)

    @property
    def _bar_ticks(self) -> int:
        return parse_metre(self._settings["time.metre"]).bar_ticks

    def _keep_in_time(self) -> None:
        if self._practice is not None and self._practice.score.asked >= self._kept + KEPT_EVERY:
            self._keep()

    def _keep(self) -> None:
        """Write down what is new since the last time."""
        if self._practice is None or self._memory is None:
            return
        asked = self._practice.score.asked
        if asked == self._kept:
            return
        self._kept = asked
        self._memory.keep(self._practice.drill)


def snap_in_drill(snap: str) -> str:
    """The snap policy while degrees are asked: the player is to find the notes."""
    return snap if snap in IN_ORDER else "off"


def _is_played(record: Record) -> bool:
    data: Any = record.data
    return (
        record.kind == "out"
        and record.port not in (ANSWER, CLOCK_OUT)
        and len(data) == 3
        and data[0] & 0xF0 == NOTE_ON
        and data[2] > 0
        and data[0] & 0x0F != DRUM_CHANNEL
    )
