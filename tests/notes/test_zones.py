import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from live.notes.zones import DRUMS, EVERYTHING, Zone, ZoneMap
from live.theory.errors import FieldError

zones = st.builds(
    lambda channels, a, b, v, w: Zone(
        channels=channels,
        low=min(a, b),
        high=max(a, b),
        min_velocity=min(v, w),
        max_velocity=max(v, w),
    ),
    st.frozensets(st.integers(0, 15), max_size=3),
    st.integers(0, 127),
    st.integers(0, 127),
    st.integers(1, 127),
    st.integers(1, 127),
)


@example([], 0, 60, 64)
@example([Zone(min_velocity=100)], 0, 60, 64)
@given(st.lists(zones, max_size=4), st.integers(0, 15), st.integers(0, 127), st.integers(1, 127))
def test_the_first_zone_that_fits_is_used(given_zones, channel, note, velocity):
    def fits(zone):
        on_channel = not zone.channels or channel in zone.channels
        in_range = zone.low <= note <= zone.high
        return on_channel and in_range and zone.min_velocity <= velocity <= zone.max_velocity

    wanted = next((z for z in given_zones if fits(z)), DRUMS if channel == 9 else EVERYTHING)
    found = ZoneMap(tuple(given_zones))
    for _ in range(2):  # the second time from what was kept
        assert found.find(channel, note, velocity) is wanted


@pytest.mark.parametrize("velocity", [1, 64, 127])
def test_drums_are_channel_10_unless_a_zone_says_otherwise(velocity):
    assert ZoneMap().find(9, 36, velocity).role == "drums"
    own = Zone("pads", channels=frozenset({9}))
    assert ZoneMap((own,)).find(9, 36, velocity) is own


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"low": 60, "high": 59}, "zone range"),
        ({"low": -1}, "zone range"),
        ({"high": 128}, "zone range"),
        ({"min_velocity": 0}, "zone velocity"),
        ({"max_velocity": 128}, "zone velocity"),
        ({"min_velocity": 90, "max_velocity": 80}, "zone velocity"),
        ({"transpose": 49}, "zone transpose"),
        ({"transpose": -49}, "zone transpose"),
        ({"role": "lead"}, "zone role"),
        ({"channels": frozenset({16})}, "zone channel"),
        ({"channels": frozenset({-1})}, "zone channel"),
        ({"out_channel": 16}, "zone channel"),
        ({"snap": "sideways"}, "snap"),
    ],
)
def test_what_makes_no_sense_is_refused_by_name(wrong, field):
    with pytest.raises(FieldError) as refused:
        Zone(**wrong)
    assert refused.value.field == field
