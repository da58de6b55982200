from __future__ import annotations

import json
import statistics

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.faces.check_stats import EDGES_MS, NS_PER_MS, nearest_rank, summarise


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


@given(st.lists(st.integers(0, 10**9), max_size=300))
def test_bins_agree_with_numpy(times_ns):
    # Reference: numpy.histogram; its last bin is closed above, ours open, hence the far edge.
    counts, _ = np.histogram(np.array(times_ns) / NS_PER_MS, [*EDGES_MS, 10_000.0])
    assert summarise(times_ns).bins == tuple(counts)


def test_a_time_on_an_edge_belongs_to_the_bin_above():
    for index, edge in enumerate(EDGES_MS):
        bins = summarise([round(edge * NS_PER_MS)]).bins
        assert [place for place, count in enumerate(bins) if count] == [index]
    just_under = summarise([10 * NS_PER_MS - 1]).bins
    assert just_under[EDGES_MS.index(10.0) - 1] == 1


def test_nearest_rank_worked_example():
    # The textbook example of the nearest-rank method: 15 20 35 40 50 (from memory).
    values = [15, 20, 35, 40, 50]
    assert [nearest_rank(values, s) for s in (0.05, 0.3, 0.4, 0.5, 1.0)] == [15, 20, 20, 35, 50]


def test_nothing_measured_is_null_in_json():
    found = json.loads(json.dumps(summarise([]).as_dict(), allow_nan=False))
    bins = found.pop("bins")
    nothing = dict.fromkeys(("median_ms", "p99_ms", "max_ms", "variation_ms"))
    assert found == {"count": 0, **nothing}
    assert {row["count"] for row in bins} == {0}


def test_the_bins_in_json_join_up_and_the_last_is_open():
    rows = summarise([0, 700_000, 60 * NS_PER_MS]).as_dict()["bins"]
    assert [row["from_ms"] for row in rows] == list(EDGES_MS)
    assert [row["to_ms"] for row in rows] == [*EDGES_MS[1:], None]
    assert [row["count"] for row in rows] == [1, 0, 1, *[0] * 10, 1]


def test_variation_is_the_population_standard_deviation():
    assert summarise([NS_PER_MS, 3 * NS_PER_MS]).variation_ms == statistics.pstdev([1.0, 3.0])
