"""The engine as `undersong check` measures it: the daemon's process, and a composer of one run.

It plays with the default settings on ports of its own, leads a clock, and every call is answered
by the same run of sixteenth notes, so that there are scheduled notes to be timed.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, Final

from live.clock.units import TICKS_PER_SIXTEENTH
from live.daemon.child import Child
from live.daemon.port_plan import port_plan
from live.daemon.settings import Settings, defaults, engine_config
from live.faces.check_timing import Heard
from live.notes.events import ANSWER, Composed
from live.notes.phrase import Brief, Choice, PhraseNote
from live.notes.record import Record

CLIENT: Final = "undersong checked"
CALL_BARS: Final = 1
ANSWER_BARS: Final = 4


def settings() -> Settings:
    """The default settings, but for a short call, a clock that is led, and no keyboards."""
    return defaults().changed(
        {
            "play.key": "D minor",
            "ports.client": CLIENT,
            "ports.keyboards": [],
            "form.call_bars": CALL_BARS,
            "form.answer_bars": ANSWER_BARS,
            "time.clock_out": True,
            "time.clock": "internal",
        }
    )


def run_of_sixteenths(brief: Brief) -> Choice:
    """A note on every sixteenth, through the brief's range and round again."""
    step = TICKS_PER_SIXTEENTH
    count = brief.answer_bars * brief.metre.bar_ticks // step
    span = brief.high - brief.low + 1
    notes = (PhraseNote(i * step, step // 2, brief.low + i % span, 80) for i in range(count))
    return Choice(1, 1.0, (), ("", ""), tuple(notes))


class CheckedEngine:
    """What the engine process said.

    Fields:
        due: answer messages, each with the moment at which it was due.
        niceness: the process's own; below 0 = it may run before other programs.
    Thread: the child's reader fills it; read it after the measurement.
    """

    def __init__(self) -> None:
        self.due: list[Heard] = []
        self.niceness = 0

    def take(self, child: Child, frame: tuple[Any, ...] | None) -> None:
        """One frame from the engine."""
        if frame is None:
            return
        if frame[0] == "records":
            records = (Record(*values) for values in frame[1])
            self.due += [(r.at_ns, r.data) for r in records if r[1:3] == ("out", ANSWER)]
        elif frame[0] == "compose":
            _, request, brief = frame
            child.send(("do", 0, Composed(0, request, (run_of_sixteenths(brief),))))


@contextmanager
def checked_engine() -> Iterator[CheckedEngine]:
    """Run it; its ports appear within a second or so."""
    wanted, engine = settings(), CheckedEngine()
    child = Child("live.daemon.engine_process", engine.take)
    try:
        child.send((engine_config(wanted), port_plan(wanted)))
        yield engine
        if hasattr(os, "getpriority"):
            engine.niceness = os.getpriority(os.PRIO_PROCESS, child.pid)
        child.send(("quit",))
    finally:
        child.end(5.0)
