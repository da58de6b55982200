"""The chords that `bench_chords` names; run, it prints how long each takes where it is new.

Run: python -m tests.bench.chords_named   (microseconds a chord, a list in JSON)
"""

from __future__ import annotations

import json
import random
import time
from collections.abc import Callable

from live.theory.chord_names import name_chord
from live.theory.chord_table import QUALITIES
from live.theory.chords import intervals_of

CHORDS = 200


def chords_to_name() -> list[list[int]]:
    """Every quality on roots all over, in every position, then random sets of 2 to 7 notes."""
    rng = random.Random(7)
    chords = []
    for suffix in QUALITIES:
        root = rng.randrange(36, 60)
        notes = [root + step for step in intervals_of(suffix)]
        turn = rng.randrange(len(notes))
        chords.append([note + 12 if index < turn else note for index, note in enumerate(notes)])
    while len(chords) < CHORDS:
        chords.append(rng.sample(range(36, 84), rng.randint(2, 7)))
    return [notes for notes in chords if 2 <= len({note % 12 for note in notes}) <= 7]


def us_once(name: Callable[[list[int]], object], notes: list[int]) -> float:
    """Microseconds for a chord, once."""
    began_ns = time.perf_counter_ns()
    name(notes)
    return (time.perf_counter_ns() - began_ns) / 1000


if __name__ == "__main__":
    print(json.dumps([us_once(name_chord, notes) for notes in chords_to_name()]))
