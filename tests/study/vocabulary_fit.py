"""Counts what is usual in bass lines, by viewpoint, and writes live/answer/usual_table.py.

Run: python -m tests.study.vocabulary_fit

Read: the bass tracks of freedoom, two bars at a time; bars that a track repeats count once.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path

from live.answer.viewpoints import SIZES, Lens, View
from live.clock.metre import Metre
from tests.study.bass_corpus import Window, bass_windows

TABLE = Path(__file__).resolve().parents[2] / "live/answer/usual_table.py"
NAMES = ("degrees", "moves", "rhythms", "lengths")


def different_windows() -> list[Window]:
    """Every two bars of bass in freedoom; those that a track repeats once."""
    found: dict[object, Window] = {}
    for window in bass_windows("freedoom"):
        found.setdefault((window.track.name, window.bass), window)
    return list(found.values())


def view_of(window: Window) -> View:
    """A window by viewpoints, in the key of its song."""
    onsets, lengths, pitches, _ = zip(
        *((n.onset_ticks, n.length_ticks, n.pitch, n.velocity) for n in window.notes), strict=True
    )
    return Lens(window.track.key, Metre()).view(onsets, lengths, pitches)


def count(views: Sequence[View]) -> tuple[tuple[int, ...], ...]:
    """How often each symbol of each viewpoint comes."""
    found = [Counter(s for view in views for s in view[place]) for place in range(len(SIZES))]
    return tuple(
        tuple(counter[symbol] for symbol in range(size))
        for counter, size in zip(found, SIZES, strict=True)
    )


def table_text(counts: Sequence[Sequence[int]], windows: int) -> str:
    """The module that holds the counts."""
    rows = ""
    for name, values in zip(NAMES, counts, strict=True):
        lines = [values[at : at + 11] for at in range(0, len(values), 11)]
        body = "".join("        " + " ".join(f"{v}," for v in line) + "\n" for line in lines)
        rows += f"    (  # {name}\n{body}    ),\n"
    return f'''"""What is usual in bass lines: how often each symbol of each viewpoint comes.

Source: {windows} different pairs of bars in the bass tracks of freedoom (BSD-3-Clause), counted by
tests/study/vocabulary_fit.py. Written by that script; never edited by hand.
"""

from __future__ import annotations

# fmt: off
COUNTS: tuple[tuple[int, ...], ...] = (
{rows})
# fmt: on
"""One row for each viewpoint of `viewpoints.View`, by symbol."""
'''


def main() -> None:
    """Count and write."""
    windows = different_windows()
    counts = count([view_of(window) for window in windows])
    TABLE.write_text(table_text(counts, len(windows)), encoding="utf-8")
    print(f"{len(windows)} pairs of bars, {sum(counts[0])} notes -> {TABLE.name}")


if __name__ == "__main__":
    main()
