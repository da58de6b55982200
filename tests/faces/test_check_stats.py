from __future__ import annotations

import json
import statistics

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.faces.check_stats import NS_PER_MS, Times, faults, nearest_rank, summarise

GOOD = Times(count=100, median_ms=2.0, p99_ms=3.0, max_ms=4.0, variation_ms=0.5)


@given(st.lists(st.integers(0, 10**9), min_size=1, max_size=300))
def test_summary_agrees_with_numpy(times_ns):
    # Reference: numpy's inverted_cdf quantile (Hyndman & Fan 1996, type 1) and population std.
    found = summarise(times_ns)
    ms = np.array(times_ns) / NS_PER_MS
    assert found.count == len(times_ns)
    assert found.median_ms == pytest.approx(np.quantile(ms, 0.5, method="inverted_cdf"))
    assert found.p99_ms == pytest.approx(np.quantile(ms, 0.99, method="inverted_cdf"))
    assert found.max_ms == pytest.approx(ms.max())
    assert found.variation_ms == pytest.approx(ms.std(), abs=1e-6)


def test_nearest_rank_worked_example():
    # The textbook example of the nearest-rank method: 15 20 35 40 50 (from memory).
    values = [15, 20, 35, 40, 50]
    assert [nearest_rank(values, s) for s in (0.05, 0.3, 0.4, 0.5, 1.0)] == [15, 20, 20, 35, 50]


def test_nothing_measured_is_null_in_json():
    found = summarise([])
    assert json.loads(json.dumps(found.as_dict(), allow_nan=False)) == {
        "count": 0,
        "median_ms": None,
        "p99_ms": None,
        "max_ms": None,
        "variation_ms": None,
    }
    assert faults(found, 0) == ["no note came through"]


def test_limits_are_the_published_ones():
    # Wessel & Wright 2002: at most 10 ms, varying by at most 1 ms.
    def with_(**change):
        fields = {name: getattr(GOOD, name) for name in Times.__slots__}
        return Times(**(fields | change))

    assert faults(GOOD, 0) == []
    assert faults(with_(p99_ms=10.0, variation_ms=1.0), 0) == []
    assert len(faults(with_(p99_ms=10.1), 0)) == 1
    assert len(faults(with_(variation_ms=1.1), 0)) == 1
    assert faults(GOOD, 3) == ["3 of the messages were lost"]
    assert len(faults(with_(p99_ms=20.0, variation_ms=3.0), 1)) == 3


def test_variation_is_the_population_standard_deviation():
    assert summarise([NS_PER_MS, 3 * NS_PER_MS]).variation_ms == statistics.pstdev([1.0, 3.0])
