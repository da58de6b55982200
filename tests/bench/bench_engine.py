"""What the engine's own step costs for a note, against what mido costs for the same bytes.

The baseline makes two messages of the bytes and copies each with another note: the least that a
path through mido's messages does to move a note.

Run: python -m tests.bench.bench_engine
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable

import mido

from live.notes.config import EngineConfig
from live.notes.engine import Engine
from live.notes.events import MidiIn
from live.theory.keys import parse_key

NOTES = 20_000
STEP_LIMIT_US = 20.0
EVENT_EVERY_NS = 5_000_000


def us_per_note(step: Callable[[int, int], None]) -> tuple[float, float]:
    """(median, p99) microseconds of a note-on or note-off."""
    took_ns = []
    for number in range(NOTES):
        note = 36 + number // 2 * 7 % 60
        began_ns = time.perf_counter_ns()
        step(number, note)
        took_ns.append(time.perf_counter_ns() - began_ns)
    took_ns.sort()
    return statistics.median(took_ns) / 1000, took_ns[NOTES * 99 // 100] / 1000


def through_mido(number: int, note: int) -> None:
    message = mido.Message.from_bytes((0x80 if number % 2 else 0x90, note, 80))
    message.copy(note=note + 1).bytes()


def engine_step(*, playing: bool) -> Callable[[int, int], None]:
    """A step of an engine that snaps to D minor, with the transport at rest or running."""
    engine = Engine(EngineConfig(key=parse_key("D minor"), start_on_first_note=playing))

    def step(number: int, note: int) -> None:
        data = bytes((0x80 if number % 2 else 0x90, note, 80))
        engine.step(MidiIn(number * EVENT_EVERY_NS, 0, data))

    return step


def main() -> bool:
    """Print the figures; True if a note costs no more than the limit."""
    base_us, base_p99_us = us_per_note(through_mido)
    print(f"mido, parse and copy: median {base_us:.1f} us, p99 {base_p99_us:.1f} us")
    good = True
    for name, playing in (("at rest", False), ("playing, listening to a call", True)):
        took_us, p99_us = us_per_note(engine_step(playing=playing))
        good &= took_us <= STEP_LIMIT_US
        print(
            f"engine {name}: median {took_us:.1f} us (<= {STEP_LIMIT_US:.0f}), p99 {p99_us:.1f} "
            f"us, ratio {took_us / base_us:.2f}"
        )
    return good


if __name__ == "__main__":
    sys.exit(not main())
