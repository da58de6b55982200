"""Measures real bass lines over their drums and writes live/answer/bass_table.py.

Run: python -m tests.study.bass_fit

Two bars at a time, as `bass_corpus` cuts them from freedoom's music. A line's band is the 5th to
the 95th percentile over the lines; a track's is that over the means of the tracks with four lines
or more. Nothing of openttd-openmsx is read.
"""

from __future__ import annotations

from collections import defaultdict
from pathlib import Path
from statistics import fmean

import numpy as np

from tests.study.bass_corpus import FEATURES, Window, bass_windows, line_features

TABLE = Path(__file__).resolve().parents[2] / "live/answer/bass_table.py"
LEAST_LINES = 4
PERCENTILES = (5, 50, 95)

Bands = dict[str, tuple[float, float, float]]


def line_bands(windows: list[Window]) -> Bands:
    """5th, 50th and 95th percentile of each feature over the lines."""
    return _bands([_features(window) for window in windows])


def track_bands(windows: list[Window]) -> Bands:
    """The same over the means of tracks."""
    by_track: dict[str, list[dict[str, float]]] = defaultdict(list)
    for window in windows:
        by_track[window.track.name].append(_features(window))
    means = []
    for rows in by_track.values():
        told = {name: [row[name] for row in rows if name in row] for name in FEATURES}
        means.append({n: fmean(found) for n, found in told.items() if len(found) >= LEAST_LINES})
    return _bands(means)


def _features(window: Window) -> dict[str, float]:
    return line_features(window.bass, window.kicks, window.snares)


def _bands(rows: list[dict[str, float]]) -> Bands:
    bands = {}
    for name in FEATURES:
        found = np.percentile([row[name] for row in rows if name in row], PERCENTILES)
        bands[name] = tuple(float(value) for value in np.round(found, 3))
    return bands


def table_text(windows: list[Window]) -> str:
    """The module that holds the bands."""
    tracks = len({window.track.name for window in windows})

    def rows(bands: Bands) -> str:
        return "".join(
            f'    "{name}": Band({low}, {middle}, {high}),\n'
            for name, (low, middle, high) in bands.items()
        )

    return f'''"""What real bass lines do over their drums, two bars at a time.

Source: {len(windows)} different two-bar lines of {tracks} bass tracks in freedoom 0.12.1 music
(BSD-3-Clause), measured by python -m tests.study.bass_fit, which writes this file; what each
feature is stands in tests/study/bass_corpus.py (`line_features`).
"""

from __future__ import annotations

from typing import Final, NamedTuple


class Band(NamedTuple):
    """5th, 50th and 95th percentile."""

    low: float
    middle: float
    high: float


LINE_BANDS: Final[dict[str, Band]] = {{
{rows(line_bands(windows))}}}
"""Over the lines. kicks: share of the kicks that the bass plays on; on kick, on snare: share of the
bass notes that start with that drum; repeats: share of moves that stay on the note; turns: share
of leaps of more than 4 semitones that turn back at once; likeness: share of the sixteenths in
which both bars agree; notes a bar."""

TRACK_BANDS: Final[dict[str, Band]] = {{
{rows(track_bands(windows))}}}
"""The same over the means of tracks: where the mean of many lines should lie."""
'''


def main() -> None:
    windows = bass_windows("freedoom")
    TABLE.write_text(table_text(windows), encoding="utf-8")
    print(f"{len(windows)} lines; written: {TABLE.name}")


if __name__ == "__main__":
    main()
