"""Weights of the root finder: log odds by interval above the root and by shape.

Source: learned by tests/study/chord_root_fit.py from 1,064 Roman numerals in 19 chorales (human
analyses that music21 carries), ridge 0.3. Written by that script; never edited by hand.
"""

from __future__ import annotations

# fmt: off
WEIGHTS: tuple[tuple[float, ...], ...] = (
    (  # share of the time, by semitones above the root
        1.08, -0.17, -0.29, -0.39, -0.16, -0.42, 0.01, 0.96, -0.01, -0.44, -0.08, -0.09,
    ),
    (  # present, by semitones above the root
        2.25, 1.09, 0.02, -0.51, -0.41, 0.78, -0.48, 0.21, -0.58, 0.15, -1.42, -1.11,
    ),
    (  # at the start, by semitones above the root
        -0.25, -0.43, -0.11, 0.98, 0.55, 0.71, 0.21, 0.65, -1.21, -1.06, 0.49, -0.55,
    ),
    (  # bass, by semitones above the root
        1.65, 0.31, 0.29, 1.46, 1.13, 0.12, -0.77, -1.41, -0.47, -1.46, -0.95, 0.09,
    ),
    (  # at the end, by semitones above the root
        1.54, -1.45, -0.54, -0.31, 0.51, -1.02, 0.77, -0.05, -0.51, -1.15, 1.52, 0.7,
    ),
    (  # each shape whole in the span
        0.11, 0.16, 0.75, -0.29, -0.03, -0.06, -0.05, 0.24, 1.36, 0.66, 0.04, -0.79,
        0.88, -0.08, 1.35, 0.38, 0.77, -0.11, -1.08, 0.54,
    ),
    (  # each shape whole at its start
        -0.19, 0.75, 0.45, -0.8, 1.01, 0.54, 0.2, 0.23, 1.08, 0.5, 0.2, 0.57,
        0.82, 0.59, -0.08, 1.01, 1.87, 0.83, 1.5, 0.66,
    ),
)
# fmt: on
"""Five rows of 12 (C = the root), then two rows of one weight for each of `chord_roots.SHAPES`."""
