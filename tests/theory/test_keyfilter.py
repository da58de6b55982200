from __future__ import annotations

from operator import mul

import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.theory.keyfilter import Filter, Move, Ways, home_of, scaled, sent_on, stayed

ONE_WAY = [Ways(*(float(at == way) for at in range(6))) for way in range(6)]
SHARES = st.lists(st.floats(0.01, 1.0), min_size=24, max_size=24)
ONE = [1.0] * 24


def only(key):
    return [float(at == key) for at in range(24)]


@pytest.mark.parametrize(
    ("way", "major_to", "minor_to"),
    [(0, 0, 12), (1, 7, 19), (2, 5, 17), (3, 21, 3), (4, 12, 0)],
)
def test_ways_from_c_go_where_they_say(way, major_to, minor_to):
    # Stay, up a fifth, down a fifth, to the relative, to the parallel: C major, C minor.
    assert sent_on(only(0), ONE_WAY[way], ONE, 0.0) == only(major_to)
    assert sent_on(only(12), ONE_WAY[way], ONE, 0.0) == only(minor_to)


@given(SHARES, SHARES, st.integers(1, 11))
def test_music_goes_alike_from_every_tonic(chances, onto, by):
    ways = (0.3, 0.25, 0.2, 0.15, 0.06, 0.04)

    def turned(row):
        return [row[12 * (key // 12) + (key - by) % 12] for key in range(24)]

    sent = sent_on(chances, ways, onto, 0.5)
    assert sent_on(turned(chances), ways, turned(onto), 0.5) == pytest.approx(turned(sent))


@given(SHARES)
def test_any_key_is_all_alike(chances):
    assert sent_on(chances, ONE_WAY[5], chances, 0.5) == pytest.approx(
        [1 / 24 + chance / 2 for chance in chances]
    )


@given(SHARES, SHARES, st.integers(0, 5))
def test_home_is_where_the_key_heard_comes_from(heard, home, way):
    heard, home = scaled(heard), scaled(home)
    goes = sum(map(mul, heard, sent_on(home, ONE_WAY[way], ONE, 0.0)))
    comes = sum(map(mul, home_of(heard, ONE_WAY[way]), home))
    assert goes == pytest.approx(comes)


@given(SHARES, SHARES)
def test_an_event_that_grows_is_weighed_as_if_it_had_come_at_once(first, whole):
    calm, ready = Move(0.9, 0.05, 0.05), Move(0.5, 0.2, 0.3)
    grown, once = Filter(ONE_WAY[0]), Filter(ONE_WAY[0])
    for followed in (grown, once):
        followed.begin()
        followed.move(calm)
        followed.weigh([2.0, *[1.0] * 23])
        followed.begin()
    grown.move(calm)
    grown.weigh(first)
    for followed in (grown, once):
        followed.move(ready)
        followed.weigh(whole)
    assert grown.chances == pytest.approx(once.chances)


@given(SHARES, SHARES)
def test_a_key_that_never_goes_home_is_weighed_as_by_the_filter(first, second):
    move, filtered = Move(0.95, 0.05, 0.0), Filter(ONE_WAY[0])
    weighed = ONE
    for factors in (first, second, first):
        filtered.begin()
        filtered.move(move)
        filtered.weigh(factors)
        weighed = stayed(weighed, move, factors)
    assert scaled(weighed) == pytest.approx(filtered.chances)
