"""Fuzzes the engine's step, guided by coverage: python -m tests.fuzz.engine --minutes N [--keep]

An input is a script (tests/fuzz/script.py); each step is held against a model of a synthesiser, and
at the end nothing may sound.
"""

from __future__ import annotations

import sys
from pathlib import Path

from live.clock import due, transport
from live.notes import (
    answer_part,
    call_part,
    channels,
    copies,
    dialogue,
    engine,
    gestures,
    held,
    listener,
    offer,
    player,
    receivers,
    router,
    sensing,
    transport_control,
    zone_cells,
    zones,
)
from live.theory.keys import parse_key
from tests.fuzz import guide
from tests.fuzz.script import Script
from tests.fuzz.world import World

CORPUS = Path(__file__).parent / "corpus" / "engine.txt"
EVENTS = 60
WAYS = ("fingers", "unplugged", "panic", "release")
_WATCHED = (
    answer_part, call_part, channels, copies, dialogue, due, engine, gestures, held, listener,
    offer, player, receivers, router, sensing, transport, transport_control, zone_cells, zones,
)  # fmt: skip
_WORDS: list[guide.Input] = [
    *((kind,) for kind in range(24)),
    (0, 0, 3, 0, 0),  # a note on
    (3, 1, 0),  # the end of a key
    (6, 8),  # a second
    (16, 0, 0),  # start
    (11, 0, 0, 0),  # an MPE zone
    (14, 9, 1, 0),
]


def check(shape: guide.Input) -> None:
    """Play the script; its first number says how it ends."""
    numbers = iter(shape)
    how = WAYS[next(numbers, 0) % len(WAYS)]
    world = World(key=parse_key("D minor"))
    script = Script(numbers, world)
    script.play(min(EVENTS, len(shape)))
    world.finish(how)


TARGET = guide.Target(
    check, frozenset(str(module.__file__) for module in _WATCHED), 256, _WORDS, 240
)


def read_line(line: str) -> guide.Input:
    """A line of the corpus: hex bytes."""
    return tuple(bytes.fromhex(line))


def write_line(shape: guide.Input) -> str:
    """The line that stands for an input."""
    return bytes(shape).hex()


if __name__ == "__main__":
    sys.exit(guide.main(TARGET, CORPUS, read_line, write_line))
