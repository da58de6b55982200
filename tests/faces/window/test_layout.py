from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from live.faces.window.layout import COMPACT, FULL, MIN_SCALE, MIN_SIZE, Box, arrange, on_screen

widths = st.integers(MIN_SIZE[0], 5000)
heights = st.integers(MIN_SIZE[1], 3000)
spots = st.integers(-6000, 6000)


@given(widths, heights)
def test_parts_never_overlap_and_never_leave_the_window(width: int, height: int) -> None:
    boxes = arrange(width, height).boxes()
    for box in boxes:
        assert box.width > 0
        assert box.height > 0
        assert box.x >= 0
        assert box.right <= width
        assert box.y >= 0
        assert box.bottom <= height
    pairs = [(a, b) for index, a in enumerate(boxes) for b in boxes[index + 1 :]]
    assert len(pairs) == 15
    assert not any(a.overlaps(b) for a, b in pairs)


@given(widths, heights)
def test_the_scale_never_falls_below_its_least(width: int, height: int) -> None:
    layout = arrange(width, height)
    assert layout.scale >= MIN_SCALE
    base = COMPACT if layout.compact else FULL
    if layout.scale > MIN_SCALE:
        assert layout.scale <= width / base[0] + 1e-9
        assert layout.scale <= height / base[1] + 1e-9


def test_the_usual_size_has_scale_1_and_twice_the_size_twice_the_scale() -> None:
    assert (arrange(*FULL).scale, arrange(*FULL).compact) == (1.0, False)
    assert arrange(FULL[0] * 2, FULL[1] * 2).scale == 2.0
    assert arrange(*COMPACT).compact
    assert arrange(*MIN_SIZE).scale == MIN_SCALE


def test_room_left_over_goes_to_lanes_and_strip() -> None:
    usual, taller = arrange(*FULL), arrange(FULL[0], FULL[1] + 200)
    assert taller.scale == usual.scale
    assert taller.lanes.height > usual.lanes.height
    assert taller.strip.height > usual.strip.height
    assert taller.foot.height == usual.foot.height


screens = st.builds(
    Box, spots, spots, st.integers(MIN_SIZE[0], 4000), st.integers(MIN_SIZE[1], 3000)
)


@given(st.builds(Box, spots, spots, widths, heights), st.lists(screens, min_size=1, max_size=3))
def test_a_window_always_lies_on_a_screen_and_stays_if_it_did(
    window: Box, placed_on: list[Box]
) -> None:
    moved = on_screen(window, placed_on)

    def inside(box: Box, screen: Box) -> bool:
        across = screen.x <= box.x and box.right <= screen.right
        return across and screen.y <= box.y and box.bottom <= screen.bottom

    assert any(inside(moved, screen) for screen in placed_on)
    assert on_screen(moved, placed_on) == moved or len(placed_on) > 1
    if any(inside(window, screen) for screen in placed_on):
        assert (moved.width, moved.height) == (window.width, window.height)


def test_a_place_kept_from_a_larger_screen_comes_back_onto_the_small_one() -> None:
    moved = on_screen(Box(3000, 100, 760, 286), [Box(0, 0, 640, 480)])
    assert moved == Box(0, 100, 640, 286)
