"""What measured times amount to, and whether they are good enough to play on."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Final

NS_PER_MS: Final = 1_000_000
LIMIT_MS: Final = 10.0
"""Longest time from action to sound: Wessel & Wright, Computer Music Journal 26(3), 2002."""

LIMIT_VARIATION_MS: Final = 1.0
"""Largest variation of that time: same source; taken as the standard deviation (our reading)."""


@dataclass(frozen=True, slots=True)
class Times:
    """A set of measured times in milliseconds; `count` is how many, 0 or more.

    Percentiles are the nearest rank; `variation_ms` is the standard deviation.
    """

    count: int
    median_ms: float
    p99_ms: float
    max_ms: float
    variation_ms: float

    def as_dict(self) -> dict[str, object]:
        """For JSON, rounded to a microsecond; null where nothing was measured."""
        return {k: None if math.isnan(v) else round(v, 3) for k, v in asdict(self).items()}


def summarise(times_ns: Sequence[int]) -> Times:
    """Median, 99th percentile, maximum and variation of times in nanoseconds."""
    if not times_ns:
        return Times(0, math.nan, math.nan, math.nan, math.nan)
    ordered = sorted(t / NS_PER_MS for t in times_ns)
    return Times(
        count=len(ordered),
        median_ms=nearest_rank(ordered, 0.5),
        p99_ms=nearest_rank(ordered, 0.99),
        max_ms=ordered[-1],
        variation_ms=statistics.pstdev(ordered),
    )


def nearest_rank(ordered: Sequence[float], share: float) -> float:
    """The smallest value that at least `share` (above 0, up to 1) of all values do not exceed."""
    return ordered[max(math.ceil(share * len(ordered)), 1) - 1]


def faults(through: Times, lost: int) -> list[str]:
    """Why a machine is not fit, in words; empty = fit.

    Args:
        through: time from a key press to the moved note, measured outside the daemon.
        lost: messages that went in and did not come out.
    """
    found = []
    if through.count == 0:
        found.append("no note came through")
    if through.p99_ms > LIMIT_MS:
        found.append(f"1 note in 100 takes longer than {LIMIT_MS:g} ms ({through.p99_ms:.1f} ms)")
    if through.variation_ms > LIMIT_VARIATION_MS:
        was = f"{through.variation_ms:.1f} ms, should be {LIMIT_VARIATION_MS:g} ms or less"
        found.append(f"the delay varies too much ({was})")
    if lost:
        found.append(f"{lost} of the messages were lost")
    return found
