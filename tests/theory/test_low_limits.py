from __future__ import annotations

import pytest

from live.theory.low_limits import INTERVAL_NAMES, LOW_LIMITS, interval_name, low_limit
from live.theory.pitch import parse_note


@pytest.mark.parametrize(
    ("semitones", "lowest"),
    # Low interval limits, a public glossary of arranging, moved to C4 = 60.
    [
        *((1, "E3"), (2, "Eb3"), (3, "C3"), (4, "B2"), (5, "A2"), (6, "B1"), (7, "C#2")),
        *((8, "F2"), (9, "F2"), (10, "F2"), (11, "F2")),
    ],
)
def test_every_row(semitones, lowest):
    assert low_limit(semitones) == LOW_LIMITS[semitones] == parse_note(lowest)


def test_octaves_have_no_limit_and_wider_ones_count_from_the_second_partial():
    assert [low_limit(octave) for octave in (0, 12, 24, 36)] == [0, 0, 0, 0]
    for rest, lowest in LOW_LIMITS.items():
        assert low_limit(12 + rest) == lowest - 12
        assert low_limit(24 + rest) == 0


def test_names():
    assert len(INTERVAL_NAMES) == 12
    assert [interval_name(size) for size in (0, 7, 12, 15, 24, 28)] == [
        "unison",
        "fifth",
        "octave",
        "minor third and an octave",
        "2 octaves",
        "major third and 2 octaves",
    ]
