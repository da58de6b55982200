from __future__ import annotations

from statistics import correlation

import pytest

from live.theory import profiles

MAJOR = profiles.KRUMHANSL_KESSLER_MAJOR
MINOR = profiles.KRUMHANSL_KESSLER_MINOR


def moved(profile, tonic):
    return [profile[(pitch_class - tonic) % 12] for pitch_class in range(12)]


@pytest.mark.parametrize(
    ("tonic", "profile", "expected"),
    # Correlations of C major with other keys: Krumhansl 1990, Cognitive Foundations of Musical
    # Pitch, table 2.4 (recomputed independently from the published profiles).
    [
        (7, MAJOR, 0.591),
        (5, MAJOR, 0.591),
        (2, MAJOR, 0.041),
        (6, MAJOR, -0.683),
        (9, MINOR, 0.650),
        (4, MINOR, 0.536),
        (0, MINOR, 0.512),
        (2, MINOR, 0.237),
        (7, MINOR, 0.243),
        (3, MINOR, -0.653),
    ],
)
def test_key_distances_from_c_major(tonic, profile, expected):
    assert correlation(MAJOR, moved(profile, tonic)) == pytest.approx(expected, abs=0.002)


@pytest.mark.parametrize(("tonic", "expected"), [(7, 0.340), (6, -0.673)])
def test_key_distances_from_c_minor(tonic, expected):
    assert correlation(MINOR, moved(MINOR, tonic)) == pytest.approx(expected, abs=0.002)


def test_albrecht_shanahan_rows_are_shares():
    # Shares of all notes, printed to three decimals, so each row adds up to 1 within rounding.
    for row in (profiles.ALBRECHT_SHANAHAN_MAJOR, profiles.ALBRECHT_SHANAHAN_MINOR):
        assert len(row) == 12
        assert sum(row) == pytest.approx(1.0, abs=12 * 0.0005)
        assert all(share > 0 for share in row)
