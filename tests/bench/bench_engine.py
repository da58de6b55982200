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
from dataclasses import replace

import mido

from live.clock.units import NS_PER_S
from live.notes.config import EngineConfig
from live.notes.cues import Cue, Trigger, Wish
from live.notes.engine import Engine
from live.notes.events import Do, MidiIn, Tick
from live.notes.song import Section, Song
from live.theory.keys import parse_key

NOTES = 20_000
SECTIONS = 2_000
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


def engine_step(*, playing: bool, plan: bool = False) -> Callable[[int, int], None]:
    """A step of an engine that snaps to D minor, with the transport at rest or running.

    With a plan there are cues too: an octave of keys, which the bench does not play, and pedals.
    """
    config = EngineConfig(key=parse_key("D minor"), start_on_first_note=playing)
    if plan:
        triggers = (Trigger("note", 0, 11), Trigger("controller", 64, 67))
        cues = tuple(Cue(trigger, Wish("tonic", tonic=True)) for trigger in triggers)
        config = replace(config, song=Song((Section("Quay", 512),)), cues=cues)
    engine = Engine(config)

    def step(number: int, note: int) -> None:
        data = bytes((0x80 if number % 2 else 0x90, note, 80))
        engine.step(MidiIn(number * EVENT_EVERY_NS, 0, data))

    return step


def us_per_section() -> tuple[float, float]:
    """(median, p99) microseconds of the step in which a section begins, all else silent."""
    keys = [parse_key(name) for name in ("D minor", "F major", "G minor", "A minor")]
    plan = Song(tuple(Section(key.name, 1, key) for key in keys))
    engine = Engine(EngineConfig(keys[0], song=plan, tempo_bpm=240.0, start_on_first_note=False))
    engine.step(Do(0, "start"))
    took_ns = []
    for bar in range(1, SECTIONS):
        began_ns = time.perf_counter_ns()
        outputs = engine.step(Tick(bar * NS_PER_S + 1000))
        took_ns.append(time.perf_counter_ns() - began_ns)
        assert [output[1] for output in outputs] == ["section", "key"]
    took_ns.sort()
    return statistics.median(took_ns) / 1000, took_ns[len(took_ns) * 99 // 100] / 1000


def main() -> bool:
    """Print the figures; True if a note costs no more than the limit."""
    base_us, base_p99_us = us_per_note(through_mido)
    print(f"mido, parse and copy: median {base_us:.1f} us, p99 {base_p99_us:.1f} us")
    good = True
    for name, playing, plan in (
        ("at rest", False, False),
        ("playing, listening to a call", True, False),
        ("playing, with a song plan and cues", True, True),
    ):
        took_us, p99_us = us_per_note(engine_step(playing=playing, plan=plan))
        good &= took_us <= STEP_LIMIT_US
        print(
            f"engine {name}: median {took_us:.1f} us (<= {STEP_LIMIT_US:.0f}), p99 {p99_us:.1f} "
            f"us, ratio {took_us / base_us:.2f}"
        )
    section_us, section_p99_us = us_per_section()
    print(f"a section begins: median {section_us:.1f} us, p99 {section_p99_us:.1f} us")
    return good


if __name__ == "__main__":
    sys.exit(not main())
