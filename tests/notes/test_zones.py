import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from live.notes.zones import DRUMS, EVERYTHING, ROLES, Zone, ZoneMap
from live.theory.errors import FieldError

zones = st.builds(
    lambda role, sources, channels, output, out_channel, a, b, v, w: Zone(
        role=role,
        sources=sources,
        channels=channels,
        output=output,
        out_channel=out_channel,
        low=min(a, b),
        high=max(a, b),
        min_velocity=min(v, w),
        max_velocity=max(v, w),
    ),
    st.sampled_from(ROLES),
    st.frozensets(st.integers(0, 2), max_size=2),
    st.frozensets(st.sampled_from((0, 1, 9, 15)), max_size=3),
    st.sampled_from(("through", "bass")),
    st.sampled_from((None, 0, 4)),
    st.integers(0, 127),
    st.integers(0, 127),
    st.integers(1, 127),
    st.integers(1, 127),
)


@example([], 0, 0, 60, 64)
@example([Zone(min_velocity=100)], 0, 0, 60, 64)
@example([Zone()], 0, 9, 60, 64)
@example([Zone("kit", "drums")], 0, 9, 60, 64)
@given(
    st.lists(zones, max_size=4),
    st.integers(0, 3),
    st.integers(0, 15),
    st.integers(0, 127),
    st.integers(1, 127),
)
def test_the_first_zone_that_fits_is_used(given_zones, source, channel, note, velocity):
    def fits(zone):
        if zone.channels:
            on_channel = channel in zone.channels
        else:  # General MIDI System Level 1: channel 10 is percussion
            on_channel = channel != 9 or zone.role == "drums"
        on_input = not zone.sources or source in zone.sources
        in_range = zone.low <= note <= zone.high
        in_velocity = zone.min_velocity <= velocity <= zone.max_velocity
        return on_input and on_channel and in_range and in_velocity

    wanted = next((z for z in given_zones if fits(z)), DRUMS if channel == 9 else EVERYTHING)
    found = ZoneMap(tuple(given_zones))
    for _ in range(2):  # the second time from what was kept
        assert found.find(source, channel, note, velocity) is wanted


@settings(deadline=None)
@example([Zone(high=59), Zone(low=60, role="control")], 0, 0)
@example([Zone(max_velocity=60, output="bass"), Zone(min_velocity=61)], 0, 0)
@given(st.lists(zones, max_size=4), st.integers(0, 3), st.integers(0, 15))
def test_pedals_go_exactly_where_notes_can_go(given_zones, source, channel):
    found = ZoneMap(tuple(given_zones))
    wanted = set()
    for note in range(128):
        for velocity in range(1, 128):
            zone = found.find(source, channel, note, velocity)
            if zone.role != "control":
                wanted.add((zone.output, channel if zone.out_channel is None else zone.out_channel))
    for note in (0, 60, 127):
        here = found.leads_of(source, channel, note)
        zones_here = [found.find(source, channel, note, v) for v in range(1, 128)]
        sounding = [z for z in zones_here if z.role != "control"]
        assert set(here) == {
            (z.output, channel if z.out_channel is None else z.out_channel) for z in sounding
        }
    for _ in range(2):
        leads = found.leads(source, channel)
        assert len(leads) == len(set(leads))
        assert set(leads) == wanted


@given(st.lists(zones, max_size=4), st.integers(0, 3))
def test_messages_of_no_channel_go_to_every_output_that_notes_can_go_to(given_zones, source):
    found = ZoneMap(tuple(given_zones))
    wanted = {output for channel in range(16) for output, _ in found.leads(source, channel)}
    assert set(found.outputs(source)) == wanted


def test_by_default_everything_leads_through_on_its_own_channel():
    for channel in range(16):
        assert ZoneMap().leads(0, channel) == (("through", channel),)
    assert ZoneMap().outputs(0) == ("through",)


@pytest.mark.parametrize("velocity", [1, 64, 127])
def test_drums_are_channel_10_unless_a_zone_says_otherwise(velocity):
    assert ZoneMap().find(0, 9, 36, velocity).role == "drums"
    own = Zone("pads", channels=frozenset({9}))
    assert ZoneMap((own,)).find(0, 9, 36, velocity) is own


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
