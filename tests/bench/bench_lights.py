"""What lights cost: a note while they are on, a look, and those sent before the next look.

The baselines are the same note and the same look without lights, in the same run.

Run inside tests/own-world.sh: python -m tests.bench.bench_lights
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable, Mapping

from live.daemon.lamps import AT_ONCE, Lamps
from live.notes.config import EngineConfig
from live.notes.engine import Engine
from live.notes.events import LIGHTS, Change, MidiIn
from live.notes.lights import LightsConfig
from live.ports.api import Outlet
from live.ports.rt import open_driver
from live.theory.keys import parse_key

ROUNDS = 4000
BURST_LIMIT_US = 100.0
NOTE_LIMIT_US = 1.0
KEYS = [parse_key(name) for name in ("D minor", "E major")]


def medians_us(*works: Callable[[int], None]) -> list[float]:
    """Median microseconds of one turn of each; they take turns, so that the machine meets all."""
    took_ns: list[list[int]] = [[] for _ in works]
    for number in range(ROUNDS):
        for work, took in zip(works, took_ns, strict=True):
            began_ns = time.perf_counter_ns()
            work(number)
            took.append(time.perf_counter_ns() - began_ns)
    return [statistics.median(took) / 1000 for took in took_ns]


def note(engine: Engine) -> Callable[[int], None]:
    def step(number: int) -> None:
        kind = 0x80 if number % 2 else 0x90
        data = bytes((kind, 36 + number // 2 * 7 % 60, 80))
        engine.step(MidiIn(number * 5_000_000, 0, data))

    return step


def lit(outlets: Mapping[str, Outlet]) -> tuple[Engine, Lamps]:
    config = EngineConfig(key=KEYS[0], lights=LightsConfig(chord=100, sounding=127))
    engine = Engine(config)
    lamps = Lamps(engine, outlets)
    lamps.look(0)
    while lamps.waits:
        lamps.send(0)
    return engine, lamps


def main() -> bool:
    """Print the figures; True if a note and a burst keep within their limits."""
    driver = open_driver("jack", "bench")
    try:
        outlets = {LIGHTS: driver.open_output("lights", virtual=True)}
        engine, lamps = lit(outlets)
        dark_engine, dark = lit({})
        without_us, with_us = medians_us(note(dark_engine), note(engine))
        idle_us, rest_us = medians_us(dark.look, lamps.look)

        def another_key(number: int) -> None:
            engine.step(Change(number, EngineConfig(KEYS[number % 2], lights=engine.config.lights)))

        [change_us] = medians_us(another_key)

        def look_anew(number: int) -> None:
            another_key(number)
            lamps.look(number)

        anew_us = medians_us(look_anew)[0] - change_us

        def burst(number: int) -> None:
            if not lamps.waits:
                look_anew(number)
            lamps.send(number)

        [burst_us] = medians_us(burst)
    finally:
        driver.close()
    print(f"a note: {with_us:.2f} us, without lights {without_us:.2f} us")
    print(
        f"a look: {rest_us:.2f} us at rest, {anew_us:.1f} us at a change of all 128 keys,", end=""
    )
    print(f" {idle_us:.2f} us without lights")
    print(f"{AT_ONCE} lights sent: {burst_us:.1f} us (<= {BURST_LIMIT_US:.0f})")
    return with_us - without_us <= NOTE_LIMIT_US and burst_us <= BURST_LIMIT_US


if __name__ == "__main__":
    sys.exit(not main())
