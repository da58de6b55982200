"""Where each part of the window goes, for any size. Pure: no Qt here.

There are two arrangements, the whole one and a compact one; everything in them, type included,
scales by one factor. Room left over goes to the lanes and the strip.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

MIN_SCALE: Final = 0.9
FULL: Final = (760, 286)
COMPACT: Final = (480, 210)
MIN_SIZE: Final = (432, 189)
"""Least size of the window in pixels: the compact arrangement at the least scale."""


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle in whole logical pixels."""

    x: int
    y: int
    width: int
    height: int

    @property
    def right(self) -> int:
        """First pixel column to the right of the box."""
        return self.x + self.width

    @property
    def bottom(self) -> int:
        """First pixel row below the box."""
        return self.y + self.height

    def overlaps(self, other: Box) -> bool:
        """True if the two share a pixel."""
        across = self.x < other.right and other.x < self.right
        return across and self.y < other.bottom and other.y < self.bottom


@dataclass(frozen=True, slots=True)
class Layout:
    """The arrangement for one size: factor for type and lengths, and a box for each part."""

    scale: float
    compact: bool
    degree: Box
    lanes: Box
    choices: Box
    strip: Box
    foot: Box
    status: Box

    def boxes(self) -> tuple[Box, ...]:
        """All parts, in reading order."""
        return (self.degree, self.lanes, self.choices, self.strip, self.foot, self.status)


@dataclass(frozen=True, slots=True)
class _Plan:
    """Lengths of an arrangement at scale 1, in pixels."""

    margin: int
    top: int
    upper: int  # least height of degree, lanes and choices
    strip: int  # least height of the strip
    degree: int
    choices: int
    gap: int
    foot: int
    status: int


_FULL_PLAN: Final = _Plan(18, 12, 118, 88, 152, 126, 12, 24, 18)
_COMPACT_PLAN: Final = _Plan(11, 8, 88, 56, 116, 22, 6, 22, 16)


def arrange(width: int, height: int) -> Layout:
    """Lay the window out for a size in logical pixels, at least `MIN_SIZE`."""
    whole = min(width / FULL[0], height / FULL[1])
    compact = whole < MIN_SCALE
    base, plan = (COMPACT, _COMPACT_PLAN) if compact else (FULL, _FULL_PLAN)
    scale = max(MIN_SCALE, min(width / base[0], height / base[1]))
    return _place(plan, width, height, scale, compact=compact)


def _place(plan: _Plan, width: int, height: int, scale: float, *, compact: bool) -> Layout:
    def px(length: float) -> int:
        return round(length * scale)

    margin, gap = px(plan.margin), px(plan.gap)
    inner = width - 2 * margin
    fixed = px(plan.top) + gap + px(plan.foot) + px(plan.status) + px(10)
    free = height - fixed
    upper = round(free * plan.upper / (plan.upper + plan.strip))
    top = px(plan.top)
    lanes_x = margin + px(plan.degree) + gap
    choices_x = width - margin - px(plan.choices)
    strip_y = top + upper + gap
    strip_height = free - upper
    foot_y = strip_y + strip_height + px(4)
    status_y = foot_y + px(plan.foot)
    return Layout(
        scale=scale,
        compact=compact,
        degree=Box(margin, top, px(plan.degree), upper),
        lanes=Box(lanes_x, top, choices_x - gap - lanes_x, upper),
        choices=Box(choices_x, top, px(plan.choices), upper),
        strip=Box(margin, strip_y, inner, strip_height),
        foot=Box(margin, foot_y, inner, px(plan.foot)),
        status=Box(margin, status_y, inner, px(plan.status)),
    )


def on_screen(window: Box, screens: list[Box]) -> Box:
    """`window` moved, and shrunk if need be, so that all of it lies on one of `screens`.

    The screen is the one that shows most of it, the first if none does. Needs one screen at least.
    """

    def shared(screen: Box) -> int:
        across = min(window.right, screen.right) - max(window.x, screen.x)
        down = min(window.bottom, screen.bottom) - max(window.y, screen.y)
        return max(0, across) * max(0, down)

    screen = max(screens, key=shared)
    width, height = min(window.width, screen.width), min(window.height, screen.height)
    x = max(screen.x, min(window.x, screen.right - width))
    y = max(screen.y, min(window.y, screen.bottom - height))
    return Box(x, y, width, height)
