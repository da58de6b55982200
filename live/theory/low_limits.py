"""Low interval limits: how low each interval may lie before it is hard to hear as an interval."""

from __future__ import annotations

LOW_LIMITS: dict[int, int] = {
    1: 52,  # minor second, E3
    2: 51,  # major second, E flat 3
    3: 48,  # minor third, C3
    4: 47,  # major third, B2
    5: 45,  # fourth, A2
    6: 35,  # tritone, B1
    7: 37,  # fifth, C sharp 2
    8: 41,  # minor sixth, F2
    9: 41,  # major sixth, F2
    10: 41,  # minor seventh, F2
    11: 41,  # major seventh, F2
}
"""Semitones -> lowest MIDI note that may be the lower of the two (C4 = 60); octaves have no limit.

Source: low interval limits of arranging practice, from a public glossary that counts middle C as
C3, moved to C4 = 60; the minor third agrees with Lowell & Pullig 2003, Arranging for Large Jazz
Ensemble (C3 to E flat 3).
"""

TEXTS_DIFFER_BY = 2
"""Semitones by which books on arranging differ about a limit; common practice, from memory."""

INTERVAL_NAMES = (
    *("unison", "minor second", "major second", "minor third", "major third", "fourth"),
    *("tritone", "fifth", "minor sixth", "major sixth", "minor seventh", "major seventh"),
)
"""Names of 0 to 11 semitones."""


def low_limit(semitones: int) -> int:
    """The lowest MIDI note on which an interval is clear.

    Args:
        semitones: size of the interval, 0 or more.
    Returns: the table's value below an octave; an octave less for an interval between one and two
        octaves, because the second partial of the lower note then makes the interval of the table
        (our reading, no source: the table ends below the octave); 0 where there is no limit.
    """
    octaves, rest = divmod(semitones, 12)
    if octaves > 1 or rest == 0:
        return 0
    return LOW_LIMITS[rest] - 12 * octaves


def interval_name(semitones: int) -> str:
    """An interval in words: `major third`, `octave`, `minor third and an octave`."""
    octaves, rest = divmod(semitones, 12)
    if octaves == 0:
        return INTERVAL_NAMES[rest]
    over = "an octave" if octaves == 1 else f"{octaves} octaves"
    return f"{INTERVAL_NAMES[rest]} and {over}" if rest else over.removeprefix("an ")
