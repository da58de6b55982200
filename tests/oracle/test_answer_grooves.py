"""Groove positions against published analyses.

Sources: E. Hein, step-by-step analysis of the Amen break, 2023 (bars 1-2, 3 and 4); E. Hein, drum pattern tables, 2010 (generic
rock, generic hip-hop, four on the floor; printed as eighths over two bars, halved to sixteenths);
the two-step as three independent teaching pages agree on it, one a lesson at 168-178 BPM.
"""

from __future__ import annotations

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
