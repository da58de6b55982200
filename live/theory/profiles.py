"""Published key profiles: how well each pitch class fits a major or a minor key.

Each row starts at the tonic and climbs by semitones.
"""

from __future__ import annotations

# Krumhansl & Kessler 1982, Psychological Review 89:334-368, probe-tone ratings (1 to 7).
KRUMHANSL_KESSLER_MAJOR = (6.35, 2.23, 3.48, 2.33, 4.38, 4.09, 2.52, 5.19, 2.39, 3.66, 2.29, 2.88)
KRUMHANSL_KESSLER_MINOR = (6.33, 2.68, 3.52, 5.38, 2.60, 3.53, 2.54, 4.75, 3.98, 2.69, 3.34, 3.17)

# Albrecht & Shanahan 2013, Music Perception 31:59-67, share of each scale degree in 490 pieces.
ALBRECHT_SHANAHAN_MAJOR = (
    *(0.238, 0.006, 0.111, 0.006, 0.137, 0.094),
    *(0.016, 0.214, 0.009, 0.080, 0.008, 0.081),
)
ALBRECHT_SHANAHAN_MINOR = (
    *(0.220, 0.006, 0.104, 0.123, 0.019, 0.103),
    *(0.012, 0.214, 0.062, 0.022, 0.061, 0.052),
)
