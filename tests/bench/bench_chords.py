"""Naming chords: how fast against music21, and how often the root of real music is right.

Roots are judged on the 1,064 human Roman numerals of tests/study/chorales.py. Ours are
cross-fitted: each chorale by weights learned from the others. music21 gets the notes that sound
when the numeral begins. 105 of the numerals belong to two chorales whose analysis is in another key
than the score: no finder can be right there but by chance, so the most to be had is near 90.

Run: python -m tests.bench.bench_chords
"""

from __future__ import annotations

import json
import statistics
import subprocess
import sys
import time
from collections.abc import Callable

from music21 import chord as m21_chord
from music21 import harmony, pitch

from live.theory.chord_names import name_chord
from live.theory.chord_roots import rank_roots
from live.theory.chords import chord_on
from live.theory.keys import parse_key
from live.theory.numerals import numeral_of
from live.theory.pitch import Spelling
from live.theory.root_table import WEIGHTS
from tests.bench.chords_named import chords_to_name, us_once
from tests.study.chorales import Item, load_items
from tests.study.chord_root_fit import cross_fit, learn_all, percent

ROOT_LIMIT_PERCENT = 87.0
TEMPLATES_PERCENT = 82.0
"""Best of nine chord templates with a bonus for the bass, on the same numerals (earlier study)."""
NAME_LIMIT_US = 40.0
NAME_LIMIT_RATIO = 50.0
ROUNDS = 5
FRESH = 9


def named_by_music21(notes: list[int]) -> str:
    """What music21 makes of the same notes: root, bass and figure."""
    made = m21_chord.Chord([pitch.Pitch(midi=note) for note in notes])
    return harmony.chordSymbolFigureFromChord(made)


def us_each(name: Callable[[list[int]], object], chords: list[list[int]]) -> list[float]:
    """Microseconds for each chord, the median of some rounds."""
    took = [[0.0] * ROUNDS for _ in chords]
    for turn in range(ROUNDS):
        for place, notes in enumerate(chords):
            took[place][turn] = us_once(name, notes)
    return [statistics.median(rounds) for rounds in took]


def us_new() -> list[float]:
    """Microseconds for each chord where it is met first, the median of some fresh processes."""
    took = []
    for _ in range(FRESH):
        command = [sys.executable, "-m", "tests.bench.chords_named"]
        done = subprocess.run(command, capture_output=True, check=True, text=True)
        took.append(json.loads(done.stdout))
    return [statistics.median(rounds) for rounds in zip(*took, strict=True)]


def speed() -> bool:
    """Print the time to name a chord; False if it is too long or too near music21's."""
    chords = chords_to_name()
    new = us_new()
    ours = us_each(name_chord, chords)
    theirs = us_each(named_by_music21, chords)
    ours_us, theirs_us = statistics.median(ours), statistics.median(theirs)
    least = min(their / our for their, our in zip(theirs, ours, strict=True))
    print(
        f"naming {len(chords)} chords: median {ours_us:.1f} us, slowest {max(ours):.1f} us (<= "
        f"{NAME_LIMIT_US:.0f}); music21 median {theirs_us:.0f} us; {theirs_us / ours_us:.0f} times "
        f"(>= {NAME_LIMIT_RATIO:.0f}), at the least {least:.0f} times"
    )
    ratios = [their / first for their, first in zip(theirs, new, strict=True)]
    print(
        f"the first time each is met: median {statistics.median(new):.1f} us, slowest "
        f"{max(new):.1f}; {statistics.median(ratios):.0f} times faster at the median, "
        f"{min(ratios):.0f} at the least; {sum(first > NAME_LIMIT_US for first in new)} of "
        f"{len(new)} over {NAME_LIMIT_US:.0f} us, {sum(r < NAME_LIMIT_RATIO for r in ratios)} "
        f"below {NAME_LIMIT_RATIO:.0f} times"
    )
    key, chord = parse_key("D minor"), chord_on(Spelling(3), "7")
    numeral = us_each(lambda _: numeral_of(chord, key), chords)
    print(f"its Roman numeral, seen before: median {statistics.median(numeral):.1f} us")
    return max(ours) <= NAME_LIMIT_US and theirs_us >= NAME_LIMIT_RATIO * ours_us


def music21_root(item: Item) -> int:
    """music21's root of the notes that sound when the numeral begins."""
    return m21_chord.Chord([pitch.Pitch(midi=note) for note in item.at_start]).root().pitchClass


def roots() -> bool:
    """Print how many roots are right; False below the limit, or if the table is out of date."""
    items = load_items()
    found = cross_fit(items)
    began_ns = time.perf_counter_ns()
    for item in items:
        rank_roots(item.notes, item.length_beats)
    took_us = (time.perf_counter_ns() - began_ns) / 1000 / len(items)
    ours = percent(root == item.root for root, item in zip(found, items, strict=True))
    moved = percent(root == item.root_in_score for root, item in zip(found, items, strict=True))
    theirs = [music21_root(item) for item in items]
    music21 = percent(root == item.root for root, item in zip(theirs, items, strict=True))
    theirs_moved = percent(
        root == item.root_in_score for root, item in zip(theirs, items, strict=True)
    )
    current = learn_all(items) == WEIGHTS
    print(
        f"chord root, {len(items)} numerals: {ours:.1f} % (>= {ROOT_LIMIT_PERCENT:.0f}), templates "
        f"{TEMPLATES_PERCENT:.1f} %, music21 {music21:.1f} %; {took_us:.0f} us a span"
    )
    print(
        f"the same with two analyses moved to their score's key: {moved:.1f} %, music21 "
        f"{theirs_moved:.1f} %"
    )
    print(f"the table is what the study writes: {'yes' if current else 'no'}")
    return ours >= ROOT_LIMIT_PERCENT and current


def main() -> bool:
    """Print the figures; False if one misses its limit."""
    fast = speed()
    right = roots()
    return fast and right


if __name__ == "__main__":
    sys.exit(not main())
