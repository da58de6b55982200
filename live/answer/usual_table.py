"""What is usual in bass lines: how often each symbol of each viewpoint comes.

Source: 305 different pairs of bars in the bass tracks of freedoom (BSD-3-Clause), counted by
tests/study/vocabulary_fit.py. Written by that script; never edited by hand.
"""

from __future__ import annotations

# fmt: off
COUNTS: tuple[tuple[int, ...], ...] = (
    (  # degrees
        0, 0, 1382, 0, 0, 0, 145, 317, 0, 0, 0,
        26, 561, 26, 0, 0, 0, 462, 77, 0, 0, 0,
        555, 0, 0, 0, 3, 335, 46, 0, 0, 30, 290,
        68, 0,
    ),
    (  # moves
        2840, 237, 129, 116, 41, 96, 210, 111, 130, 27, 81,
    ),
    (  # rhythms
        281, 349, 0, 783, 0, 41, 304, 9, 17, 4, 29,
        0, 365, 0, 60, 0, 35, 1, 0, 0, 0, 0,
        0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0,
        0, 382, 0, 953, 0, 27, 133, 35, 8, 0, 3,
        0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0,
        0, 421, 0, 30, 0, 50, 0, 0, 1, 2, 0,
        0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0,
        0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0,
    ),
    (  # lengths
        1984, 1878, 359, 46, 56,
    ),
)
# fmt: on
"""One row for each viewpoint of `viewpoints.View`, by symbol."""
