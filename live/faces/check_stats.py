"""What measured times amount to: a few figures and a histogram."""

from __future__ import annotations

import math
import statistics
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Final

NS_PER_MS: Final = 1_000_000

EDGES_MS: Final = (0.0, 0.25, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 10.0, 15.0, 20.0, 50.0)
"""Lower edges of the histogram's bins, own choice: narrow where good machines lie, and one edge at
the limit of 10 ms. A time on an edge belongs to the bin above it; the last bin is open."""


@dataclass(frozen=True, slots=True)
class Times:
    """A set of measured times in milliseconds; `count` is how many, 0 or more.

    Percentiles are the nearest rank; `variation_ms` is the standard deviation; `bins` has a count
    for each of `EDGES_MS`.
    """

    count: int
    median_ms: float
    p99_ms: float
    max_ms: float
    variation_ms: float
    bins: tuple[int, ...] = (0,) * len(EDGES_MS)

    def as_dict(self) -> dict[str, object]:
        """For JSON, rounded to a microsecond; null where nothing was measured."""
        plain = asdict(self)
        del plain["bins"]
        found = {k: None if math.isnan(v) else round(v, 3) for k, v in plain.items()}
        uppers = (*EDGES_MS[1:], None)
        rows = zip(EDGES_MS, uppers, self.bins, strict=True)
        return {**found, "bins": [{"from_ms": a, "to_ms": b, "count": n} for a, b, n in rows]}


def summarise(times_ns: Sequence[int]) -> Times:
    """Median, 99th percentile, maximum, variation and histogram of times in nanoseconds, 0 up."""
    if not times_ns:
        return Times(0, math.nan, math.nan, math.nan, math.nan)
    ordered = sorted(t / NS_PER_MS for t in times_ns)
    return Times(
        count=len(ordered),
        median_ms=nearest_rank(ordered, 0.5),
        p99_ms=nearest_rank(ordered, 0.99),
        max_ms=ordered[-1],
        variation_ms=statistics.pstdev(ordered),
        bins=_bins(ordered),
    )


def _bins(values_ms: Sequence[float]) -> tuple[int, ...]:
    counts = [0] * len(EDGES_MS)
    for value in values_ms:
        counts[max(bisect_right(EDGES_MS, value) - 1, 0)] += 1
    return tuple(counts)


def nearest_rank(ordered: Sequence[float], share: float) -> float:
    """The smallest value that at least `share` (above 0, up to 1) of all values do not exceed."""
    return ordered[max(math.ceil(share * len(ordered)), 1) - 1]
