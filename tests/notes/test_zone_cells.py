"""Cells against the plain question, note by note."""

from hypothesis import given
from hypothesis import strategies as st

from live.notes.zone_cells import cells, reached
from live.notes.zones import Zone

boxes = st.builds(
    lambda a, b, v, w: Zone(
        low=min(a, b), high=max(a, b), min_velocity=min(v, w), max_velocity=max(v, w)
    ),
    *[st.integers(0, 127)] * 2,
    *[st.integers(1, 127)] * 2,
)


@given(st.lists(boxes, max_size=4))
def test_a_box_is_reached_if_it_is_the_first_for_some_note(made):
    first = {
        next((i for i, z in enumerate(made) if fits(z, note, velocity)), None)
        for note in range(128)
        for velocity in {1, *(z.min_velocity for z in made), *(z.max_velocity + 1 for z in made)}
        if velocity < 128
    }
    assert reached(made) == sorted(first - {None})


def fits(zone, note, velocity):
    in_range = zone.low <= note <= zone.high
    return in_range and zone.min_velocity <= velocity <= zone.max_velocity


def test_every_velocity_of_a_cell_goes_to_one_box():
    made = [Zone(max_velocity=60), Zone(min_velocity=40)]
    [shares] = list(cells(made))
    (_, low, first), (_, high, second) = shares
    assert low == first == sum(1 << v for v in range(1, 61))
    assert high == sum(1 << v for v in range(40, 128))
    assert second == sum(1 << v for v in range(61, 128))
    assert list(cells([])) == []
