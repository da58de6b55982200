"""What real bass lines do over their drums, two bars at a time.

Source: 456 different two-bar lines of 42 bass tracks in freedoom 0.12.1 music
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


LINE_BANDS: Final[dict[str, Band]] = {
    "kicks": Band(0.25, 0.857, 1.0),
    "on kick": Band(0.167, 0.5, 1.0),
    "on snare": Band(0.0, 0.222, 0.5),
    "repeats": Band(0.0, 0.795, 1.0),
    "turns": Band(0.0, 0.5, 1.0),
    "likeness": Band(0.5, 1.0, 1.0),
    "notes a bar": Band(1.0, 7.0, 16.0),
}
"""Over the lines. kicks: share of the kicks that the bass plays on; on kick, on snare: share of the
bass notes that start with that drum; repeats: share of moves that stay on the note; turns: share
of leaps of more than 4 semitones that turn back at once; likeness: share of the sixteenths in
which both bars agree; notes a bar."""

TRACK_BANDS: Final[dict[str, Band]] = {
    "kicks": Band(0.47, 0.806, 1.0),
    "on kick": Band(0.275, 0.485, 0.893),
    "on snare": Band(0.092, 0.242, 0.433),
    "repeats": Band(0.185, 0.584, 0.967),
    "turns": Band(0.0, 0.464, 0.869),
    "likeness": Band(0.754, 0.919, 1.0),
    "notes a bar": Band(3.813, 6.938, 13.42),
}
"""The same over the means of tracks: where the mean of many lines should lie."""
