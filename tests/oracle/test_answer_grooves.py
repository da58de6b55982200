"""Groove positions against published analyses, and their syncopation against computed values.

Sources: E. Hein, step-by-step analysis of the Amen break, 2023 (bars 1-2, 3 and 4); E. Hein, drum
pattern tables, 2010 (generic rock, generic hip-hop, four on the floor; printed as eighths over two
bars, halved to sixteenths); the two-step as three independent teaching pages agree on it, one a
lesson at 168-178 BPM; G. Toussaint, The Geometry of Musical Rhythm, 2013 (claves).
"""

from __future__ import annotations

from math import gcd

import pytest

from live.answer.grooves import find_groove, hits
from live.clock.metre import Metre

PUBLISHED = {
    ("two-step", "kick"): [{0, 10}],
    ("two-step", "snare"): [{4, 12}],
    ("amen-break", "kick"): [{0, 2, 10, 11}, {0, 2, 10, 11}, {0, 2, 10}, {2, 3, 10}],
    ("amen-break", "snare"): [{4, 7, 12, 15}, {4, 7, 12, 15}, {4, 7, 14}, {1, 4, 7, 14}],
    ("amen-break", "ride"): [{0, 2, 4, 6, 8, 10, 12, 14}] * 4,
    ("backbeat", "kick"): [{0, 2, 6, 8, 10, 14}],
    ("backbeat", "snare"): [{4, 12}],
    ("backbeat", "hat"): [{0, 2, 4, 6, 8, 10, 12, 14}],
    ("hip-hop", "kick"): [{0, 6, 9, 13}],
    ("hip-hop", "snare"): [{4, 12}],
    ("four-on-the-floor", "kick"): [{0, 4, 8, 12}],
    ("four-on-the-floor", "hat"): [{2, 6, 10, 14}],
    ("late-snare", "kick"): [{0, 2, 10}, {2, 3, 10}],
    ("late-snare", "snare"): [{4, 7, 14}, {1, 4, 7, 14}],
    # Toussaint 2013, figures 17.13 and 37.11: son and bossa nova clave, tresillo (twice a bar).
    ("son-clave", "percussion"): [{0, 3, 6, 10, 12}],
    ("bossa", "percussion"): [{0, 3, 6, 10, 13}],
}


@pytest.mark.parametrize(("groove", "drum"), PUBLISHED)
def test_positions(groove: str, drum: str) -> None:
    wanted = PUBLISHED[groove, drum]
    found = [set[int]() for _ in wanted]
    for tick, struck in hits(find_groove(groove), len(wanted), Metre(4, 4)):
        if struck == drum:
            found[tick // 3840].add(tick % 3840 // 240)
    assert found == wanted


def test_the_plain_half_time_backbeat_has_its_snare_on_three_only() -> None:
    # Common practice, no source.
    struck = hits(find_groove("half-time"), 1, Metre(4, 4))
    assert [tick for tick, drum in struck if drum == "snare"] == [1920]
    assert [tick for tick, drum in struck if drum == "kick"] == [0]


SALIENCE = (0, -4, -3, -4, -2, -4, -3, -4, -1, -4, -3, -4, -2, -4, -3, -4)
"""Weights of 16 steps in 4/4 of Longuet-Higgins & Lee 1984."""


def syncopation(steps: set[int]) -> int:
    """Longuet-Higgins & Lee 1984 on a bar that repeats; for each note its strongest later rest."""
    total = 0
    for step in steps:
        rests = []
        for later in range(step + 1, step + 16):
            if later % 16 in steps:
                break
            rests.append(SALIENCE[later % 16])
        total += max(0, max(rests, default=-9) - SALIENCE[step])
    return total


@pytest.mark.parametrize(
    ("groove", "drum", "bar", "wanted"),
    # Computed with weights and events of Longuet-Higgins & Lee, the largest of each note, cyclic.
    [
        ("two-step", "kick", 0, 1),
        ("two-step", "snare", 0, 3),
        ("amen-break", "kick", 0, 4),
        ("amen-break", "snare", 0, 7),
        ("amen-break", "snare", 2, 6),
        ("amen-break", "kick", 3, 6),
        ("amen-break", "snare", 3, 7),
        # Metrical complexity (Toussaint) of the claves, which equals this measure.
        ("son-clave", "percussion", 0, 4),
        ("bossa", "percussion", 0, 6),
    ],
)
def test_syncopation(groove: str, drum: str, bar: int, wanted: int) -> None:
    first = bar * 16
    struck = find_groove(groove).strokes(drum)
    assert syncopation({step - first for step in struck if first <= step < first + 16}) == wanted


def test_syncopation_of_the_amen_snare_with_its_quiet_stroke() -> None:
    amen = find_groove("amen-break")
    assert syncopation({s for s in (*amen.snare, *amen.ghost) if s < 16}) == 8


@pytest.mark.parametrize(
    ("groove", "pulses", "wanted"),
    # Off-beatness: onsets on pulses prime to the cycle (Gomez, Melvin, Rappaport & Toussaint 2005,
    # figures 8 and 11): son 1 and bossa 2 of 16, bembe 3 of 12 pulses.
    [("son-clave", 16, 1), ("bossa", 16, 2), ("bembe", 12, 3)],
)
def test_off_beatness(groove: str, pulses: int, wanted: int) -> None:
    found = find_groove(groove)
    scaled = [step * pulses // found.steps for step in found.percussion]
    assert sum(gcd(pulse, pulses) == 1 for pulse in scaled) == wanted
    assert len(scaled) == {16: 5, 12: 7}[pulses]


def test_the_tresillo_is_three_three_two() -> None:
    # Toussaint 2013: x..x..x. twice a bar; its first stroke is the kick's.
    found = find_groove("tresillo")
    assert {0, 8} <= set(found.kick)
    assert sorted({0, 8, *found.snare}) == [0, 3, 6, 8, 11, 14]
