"""A day of playing on the hand-driven clock: memory and the cost of an event stay what they were.

24 hours, 2 million messages on three inputs, in bursts with pauses between: phrases in a call
zone, a pad, drums, controllers, bends, changes of key and snap, answers composed and played, the
transport started and stopped. The engine is the shipped one; the ear is looked at thirty times a
second while something happens, as the daemon does, and what it sends is heard by a model of a
synthesiser. Cost is the processor's own time of a step. A machine that is busy with other work is
slower in one hour than in another; so in every hour a new-born engine plays the first messages in
turn with the old one, and the cost of an old engine is also told as a ratio to it.

Run: python -m tests.bench.bench_session [--events N]   (fewer events: the same hours, played less)
"""

from __future__ import annotations

import gc
import random
import resource
import statistics
import sys
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from types import ModuleType
from typing import NamedTuple

from live.notes.config import EngineConfig
from live.notes.engine import Engine
from live.notes.events import Change, Compose, Composed, Do, Event, MidiIn, Tick
from live.theory.keys import parse_key
from tests.fuzz.synth import Synth
from tests.notes.stage import bass, off, on

HOURS = 24
EVENTS = 2_000_000
NS_PER_HOUR = 3_600_000_000_000
LOOK_NS = 33_333_333
COMPARED = 4_000
WARMING = 1_000
"""Messages of each hour that a new engine plays too, and how many of them do not count."""
COST_LIMIT = 1.10
"""A step may cost the engine of the last hour so many times what it costs a new one."""
ENGINE_LIMIT_KIB = 16
PROCESS_LIMIT_KIB = 1024
SOME_HOURS = 6
"""Between hours 2 to 7 and the last six, memory may grow by so much. The median of six hours is
taken because what the engine holds at the very end of an hour depends on what was played then."""

KEYS = [parse_key(name) for name in ("D minor", "G minor", "F major", "A phrygian")]
SNAPS = ("nearest", "up", "chord", "white", "mute", "off")


def hour(first_ns: int, events: int, rng: random.Random) -> Iterator[tuple[int, int, bytes]]:
    """(time, source, message) of one hour's playing, in order."""
    phrases = max(1, events // 50)
    for phrase in range(phrases):
        at_ns = first_ns + phrase * NS_PER_HOUR // phrases
        step_ns = min(60_000_000, NS_PER_HOUR // phrases // 60)
        for _ in range(20):
            pitch = rng.randrange(48, 80)
            yield at_ns, 0, on(pitch, rng.randrange(40, 120))
            at_ns += step_ns
            yield at_ns, 0, off(pitch)
        yield at_ns, 1, bytes((0xB1, 64, 127))
        for pitch in (50, 57):
            yield at_ns, 1, on(pitch, channel=1)
        at_ns += step_ns
        yield at_ns, 1, bytes((0xE1, rng.randrange(128), 64))
        for pitch in (50, 57):
            yield at_ns, 1, off(pitch, channel=1)
        yield at_ns, 1, bytes((0xB1, 64, 0))
        for message in (on(36, channel=9), off(36, channel=9), bytes((0xB0, 1, 5))):
            yield at_ns, 2, message


class Session:
    """The engine, its composer, its listener and the eye of a window."""

    def __init__(self) -> None:
        self.engine = Engine(EngineConfig(key=KEYS[0]))
        self.synths = {port: Synth(deaf=True) for port in ("through", "answer")}
        self.sent = 0
        self.answers = 0
        self.looked_ns = 0
        self.cost_ns: list[int] = []

    def feed(self, event: Event) -> None:
        """Time passes up to the event, then the event."""
        engine = self.engine
        while (due_ns := engine.next_due_ns()) is not None and due_ns < event.at_ns:
            self._step(Tick(due_ns))
        began_ns = time.thread_time_ns()
        self._step(event)
        self.cost_ns.append(time.thread_time_ns() - began_ns)
        if event.at_ns - self.looked_ns > LOOK_NS:
            self.looked_ns = event.at_ns
            engine.ear.take(engine.ledger)

    def _step(self, event: Event) -> None:
        for output in self.engine.step(event):
            if type(output) is Compose:
                self._step(Composed(event.at_ns, output.request, bass(output.brief)))
            elif output.kind == "out":
                self.sent += 1
                self.answers += output.port == "answer" and output.data[0] & 0xF0 == 0x90
                self.synths[output.port].hear(output.data)


class Hour(NamedTuple):
    """What a step cost in us and as a ratio to a new engine, memory in KiB, answer notes."""

    mean_us: float
    median_us: float
    to_new: float
    engine_kib: float
    process_kib: float
    answers: int


def play(events: int) -> list[Hour]:
    """Play the day."""
    session, rows = Session(), []
    for number in range(HOURS):
        session.cost_ns.clear()
        before = session.answers
        to_new = play_hour(session, number * NS_PER_HOUR, events // HOURS)
        costs = [cost / 1000 for cost in session.cost_ns]
        gc.collect()
        answers = session.answers - before
        mean_us, median_us = statistics.fmean(costs), statistics.median(costs)
        sizes = engine_kib(session.engine), process_kib()
        rows.append(Hour(mean_us, median_us, to_new, *sizes, answers))
    session.feed(Do(HOURS * NS_PER_HOUR, "release"))
    for port, synth in session.synths.items():
        assert not synth.doubled, (port, synth.doubled)
        assert not synth.sounding, (port, synth.sounding)
    print(f"{session.sent} messages left; no note was begun twice, none sounds at the end")
    return rows


def play_hour(session: Session, first_ns: int, events: int) -> float:
    """Every hour is the same music under the same settings, so that only its age tells.

    Returns: median cost of a step to this engine, to that of a new one that plays beside it.
    """
    rng, young = random.Random(24), Session()
    young.feed(Tick(first_ns))
    changes = [first_ns + part * NS_PER_HOUR // len(SNAPS) for part in range(len(SNAPS))]
    for number, (at_ns, source, data) in enumerate(hour(first_ns, events, rng)):
        players = [session, young] if number < COMPARED else [session]
        if changes and at_ns >= changes[0]:
            part = len(SNAPS) - len(changes)
            del changes[0]
            for one in players:
                key, snap = KEYS[part % len(KEYS)], SNAPS[part]
                one.feed(Change(at_ns, replace(one.engine.config, key=key, snap=snap)))
        for one in players if number % 2 else players[::-1]:
            one.feed(MidiIn(at_ns, source, data))
    old_ns, new_ns = (one.cost_ns[WARMING:COMPARED] for one in (session, young))
    return statistics.median(old_ns) / statistics.median(new_ns)


def engine_kib(engine: Engine) -> float:
    """Size of all objects that hang on the engine, code left out."""
    seen: set[int] = set()
    total, todo = 0, [engine]
    while todo:
        one = todo.pop()
        if id(one) in seen or isinstance(one, (type, ModuleType)) or hasattr(one, "__globals__"):
            continue
        seen.add(id(one))
        total += sys.getsizeof(one)
        todo += gc.get_referents(one)
    return total / 1024


def process_kib() -> float:
    """Memory of this process that is in use (Linux)."""
    return int(Path("/proc/self/statm").read_text().split()[1]) * resource.getpagesize() / 1024


def main() -> bool:
    """Print the figures; False if memory or cost grew beyond its limit."""
    events = int(sys.argv[sys.argv.index("--events") + 1]) if "--events" in sys.argv else EVENTS
    rows = play(events)
    first, last = rows[0], rows[-1]
    for number, row in enumerate(rows, 1):
        if number in (1, 2, 6, 12, 18, HOURS):
            print(
                f"hour {number:2}: a step {row.mean_us:.1f} us on average, {row.median_us:.1f} us "
                f"median, {row.to_new:.3f} times a new engine's; engine {row.engine_kib:.0f} KiB, "
                f"process {row.process_kib:.0f} KiB; {row.answers} answer notes"
            )
    cost, median = last.mean_us / first.mean_us, last.median_us / first.median_us
    grown, process = (
        statistics.median(getattr(row, size) for row in rows[-SOME_HOURS:])
        - statistics.median(getattr(row, size) for row in rows[1 : 1 + SOME_HOURS])
        for size in ("engine_kib", "process_kib")
    )
    print(
        f"{events} messages in {HOURS} hours: last hour to first {cost:.3f} (mean), {median:.3f} "
        f"(median), to a new engine {last.to_new:.3f} (<= {COST_LIMIT}); meanwhile it grew by "
        f"{grown:.1f} KiB (<= {ENGINE_LIMIT_KIB}), the process by {process:.0f} KiB "
        f"(<= {PROCESS_LIMIT_KIB})"
    )
    flat = grown <= ENGINE_LIMIT_KIB and process <= PROCESS_LIMIT_KIB
    return flat and last.to_new <= COST_LIMIT


if __name__ == "__main__":
    sys.exit(not main())
