"""Runs 'Night Ferry' through the real engine and composer on a clock driven by hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from live.answer.compose import compose
from live.clock.units import ticks_to_ns
from live.daemon.engine_view import engine_view
from live.daemon.picture import Picture
from live.daemon.settings import Settings, defaults, engine_config
from live.daemon.snapshot import PortView, Snapshot
from live.faces import night_ferry as ferry
from live.notes.config import EngineConfig
from live.notes.engine import Engine
from live.notes.events import ANSWER, THROUGH, Do, Event, MidiIn, Tick
from live.notes.facts import fact
from live.notes.phrase import Brief, Choice
from live.notes.record import Record
from live.notes.runner import run

END_NS: Final = ticks_to_ns(ferry.BARS * ferry.METRE.bar_ticks, ferry.TEMPO_BPM)
PICTURE_NS: Final = ticks_to_ns(
    11 * ferry.METRE.bar_ticks + 2 * ferry.METRE.beat_ticks + ferry.METRE.beat_ticks // 4,
    ferry.TEMPO_BPM,
)
"""The picture shows bar 12, just after beat 3: the third answer plays, a moved key is held."""


@dataclass(frozen=True, slots=True)
class Ferry:
    """What came of the performance.

    Args:
        config: the engine's settings.
        records: all that happened, by time, in nanoseconds from the first bar line.
        rounds: for each call in order, what the composer was asked at the end and what it gave.
        snapshot: what a face showed at `PICTURE_NS`.
    """

    config: EngineConfig
    records: tuple[Record, ...]
    rounds: tuple[tuple[Brief, tuple[Choice, ...]], ...]
    snapshot: Snapshot


def ferry_settings() -> Settings:
    """The scenario's settings, as a settings file would give them."""
    return defaults().changed(
        {
            "play.key": ferry.KEY,
            "play.snap": "nearest",
            "play.progression": ferry.PROGRESSION,
            "time.tempo": ferry.TEMPO_BPM,
            "time.metre": str(ferry.METRE),
            "form.call_bars": ferry.CALL_BARS,
            "form.answer_bars": ferry.ANSWER_BARS,
        }
    )


def script() -> list[Event]:
    """The transport's start, the performance, and the stop after the last bar."""
    played: list[Event] = [MidiIn(at_ns, 0, data) for at_ns, data in ferry.performance()]
    return [Do(0, "start"), *played, Do(END_NS, "stop")]


def run_ferry() -> Ferry:
    """Play the scenario; the same result every time."""
    rounds: dict[int, tuple[Brief, tuple[Choice, ...]]] = {}

    def composing(brief: Brief) -> tuple[Choice, ...]:
        choices = compose(brief)
        rounds[brief.call.number] = (brief, choices)  # the last look at a call replaces early ones
        return choices

    settings = ferry_settings()
    config = engine_config(settings)
    engine = Engine(config)
    before, after = _cut(script(), PICTURE_NS)
    records = _only_records(run([*before, Tick(PICTURE_NS)], engine, composing))
    snapshot = _picture(settings, engine).snapshot()
    records += _only_records(run(after, engine, composing))
    opening = fact("key", 0, key=config.key.name)
    ordered = tuple(rounds[number] for number in sorted(rounds))
    return Ferry(config, (opening, *records), ordered, snapshot)


def _picture(settings: Settings, engine: Engine) -> Picture:
    """What a face shows at `PICTURE_NS`; the ports are what stands in for them here."""
    keys = PortView("keys in", "Night Ferry", "open", "the demo plays")
    outputs = tuple(
        PortView(role, "a file", "open", "the demo writes") for role in (THROUGH, ANSWER)
    )
    view = engine_view(engine, PICTURE_NS, 0, 0.0)
    return Picture(settings, view, inputs=(keys,), outputs=outputs)


def _cut(events: Sequence[Event], at_ns: int) -> tuple[list[Event], list[Event]]:
    return [e for e in events if e.at_ns <= at_ns], [e for e in events if e.at_ns > at_ns]


def _only_records(outputs: Sequence[object]) -> list[Record]:
    return [output for output in outputs if isinstance(output, Record)]
