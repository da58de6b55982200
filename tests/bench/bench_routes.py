"""What many zones and routes cost an event, next to one zone and to none, in the same run.

The last of 16 zones takes the note, so that every zone is asked. Where each zone has a channel of
its own a controller leaves 16 times; that is printed, and a sixteenth of it, but has no limit.

Run: python -m tests.bench.bench_routes
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Sequence

from live.notes.config import EngineConfig
from live.notes.engine import Engine
from live.notes.events import MidiIn
from live.notes.routes import Route
from live.notes.zones import Zone
from live.theory.keys import parse_key

EVENTS = 4_000
ROUNDS = 7
MORE_US = 10.0
"""A route of 16 zones may cost so much more per event than one zone (issue 6)."""
EVERY_NS = 5_000_000


def layers(count: int) -> tuple[Zone, ...]:
    """Zones over the same keys, told apart by velocity only; the loudest comes last."""
    width = 120 // count
    return tuple(
        Zone(
            f"layer {number}",
            "plain",
            min_velocity=1 + number * width,
            max_velocity=127 if number == count - 1 else (number + 1) * width,
            out_channel=number if count > 1 else None,
        )
        for number in range(count)
    )


def keys(count: int) -> tuple[Zone, ...]:
    """Zones side by side on the keyboard."""
    width = 128 // count
    return tuple(
        Zone(f"keys {number}", "plain", low=number * width, high=number * width + width - 1)
        for number in range(count)
    )


def notes(number: int) -> bytes:
    return bytes((0x80 if number % 2 else 0x90, 36 + number // 2 * 7 % 60, 120))


def controllers(number: int) -> bytes:
    return bytes((0xB0, 1, number % 128))


def round_us(engine: Engine, messages: Sequence[bytes], from_ns: int) -> float:
    """Microseconds of the median event."""
    took_ns = []
    for number, data in enumerate(messages):
        event = MidiIn(from_ns + number * EVERY_NS, 0, data)
        began_ns = time.perf_counter_ns()
        engine.step(event)
        took_ns.append(time.perf_counter_ns() - began_ns)
    return statistics.median(took_ns) / 1000


def measure(configs: dict[str, dict[str, object]], message) -> dict[str, float]:
    """Median of several rounds each, turn by turn, so that a busy moment strikes all alike."""
    key = parse_key("D minor")
    engines = {
        name: Engine(EngineConfig(key, start_on_first_note=False, **config))
        for name, config in configs.items()
    }
    messages = [message(number) for number in range(EVENTS)]
    found: dict[str, list[float]] = {name: [] for name in engines}
    for turn in range(ROUNDS):
        for name, engine in engines.items():
            found[name].append(round_us(engine, messages, turn * EVENTS * EVERY_NS))
    return {name: statistics.median(figures) for name, figures in found.items()}


def main() -> bool:
    """Print the figures; True if 16 zones cost no more than the limit."""
    route = Route("keys in", "synth", sources=frozenset({0}))
    outputs = ("synth",)
    configs: dict[str, dict[str, object]] = {
        "no zone": {},
        "1 zone": {"zones": layers(1)},
        "16 zones by velocity": {"zones": layers(16)},
        "16 zones by key": {"zones": keys(16)},
        "16 zones by velocity and a route": {
            "zones": (*layers(15), Zone("last", sources=frozenset({0}))),
            "routes": (route,),
            "outputs": outputs,
        },
        "a route alone": {"routes": (route,), "outputs": outputs},
    }
    good = True
    for what, message in (("note", notes), ("controller", controllers)):
        found = measure(configs, message)
        one_us = found["1 zone"]
        for name, took_us in found.items():
            more_us, ratio = took_us - one_us, took_us / one_us
            line = f"{what}, {name}: median {took_us:.1f} us, {more_us:+.1f} us, ratio {ratio:.2f}"
            if "velocity" in name and what == "controller":
                line += f", {took_us / 16:.1f} us for each of 16 messages that leave"
            elif name.startswith("16 zones by"):
                good &= more_us <= MORE_US
                line += f" (<= {MORE_US:+.0f} us)"
            print(line)
    return good


if __name__ == "__main__":
    sys.exit(not main())
