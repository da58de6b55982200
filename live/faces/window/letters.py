"""Text of the window: one family, four sizes, musical signs on the line, nothing ever clipped."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import IntEnum
from functools import lru_cache
from typing import Final, Literal

from PyQt6.QtCore import QPointF, QRectF
from PyQt6.QtGui import QFont, QFontDatabase, QFontMetricsF, QPainter

from live.faces.window import glyphs
from live.faces.window.paint import colour

Align = Literal["left", "centre", "right"]
_RUNS: Final = re.compile(f"[{glyphs.SIGNS}]|[^{glyphs.SIGNS}]+")
_DOTS: Final = "…"


class Size(IntEnum):
    """The four type sizes, in pixels at scale 1."""

    BIG = 68
    HEAD = 14
    TEXT = 12
    SMALL = 10


@lru_cache(maxsize=1)
def family() -> str:
    """Inter where it is installed, else the system's interface font."""
    if "Inter" in QFontDatabase.families():
        return "Inter"
    return QFontDatabase.systemFont(QFontDatabase.SystemFont.GeneralFont).family()


@lru_cache(maxsize=128)
def font(size: Size, scale: float, *, bold: bool) -> QFont:
    """The font of a size at a scale, with tabular figures where Qt can ask for them (6.7)."""
    made = QFont(family())
    made.setPixelSize(max(7, round(size * scale)))
    made.setWeight(QFont.Weight.DemiBold if bold else QFont.Weight.Normal)
    made.setHintingPreference(QFont.HintingPreference.PreferNoHinting)
    if hasattr(made, "setFeature"):
        made.setFeature(QFont.Tag("tnum"), 1)
    return made


@lru_cache(maxsize=128)
def _metrics(size: Size, scale: float, *, bold: bool) -> QFontMetricsF:
    return QFontMetricsF(font(size, scale, bold=bold))


def cap_height(size: Size, scale: float, *, bold: bool = False) -> float:
    """Height of a capital in pixels."""
    return _metrics(size, scale, bold=bold).capHeight()


@lru_cache(maxsize=4096)
def width_of(text: str, size: Size, scale: float, *, bold: bool = False) -> float:
    """Width of `text` in pixels, musical signs included."""
    metrics = _metrics(size, scale, bold=bold)
    cap = metrics.capHeight()
    return sum(
        glyphs.advance(run, cap) if run in glyphs.SIGNS else metrics.horizontalAdvance(run)
        for run in _RUNS.findall(text)
    )


@dataclass(frozen=True, slots=True)
class Placed:
    """Text as it will be drawn: cut if it had to be, in the size that fits, `width` pixels wide."""

    text: str
    size: Size
    width: float
    cut: bool


@lru_cache(maxsize=4096)
def fit(text: str, room: float, sizes: tuple[Size, ...], scale: float, *, bold: bool) -> Placed:
    """The first of `sizes` in which `text` is at most `room` pixels wide; cut if none is."""
    for size in sizes:
        width = width_of(text, size, scale, bold=bold)
        if width <= room:
            return Placed(text, size, width, cut=False)
    size = sizes[-1]
    for end in range(len(text) - 1, 0, -1):
        shorter = text[:end].rstrip() + _DOTS
        width = width_of(shorter, size, scale, bold=bold)
        if width <= room:
            return Placed(shorter, size, width, cut=True)
    return Placed("", size, 0.0, cut=True)


def write(
    painter: QPainter,
    box: QRectF,
    text: str,
    sizes: tuple[Size, ...],
    scale: float,
    tone: str,
    *,
    bold: bool = False,
    align: Align = "left",
) -> Placed:
    """Write one line into `box`, its capitals centred in height; returns what was written."""
    placed = fit(text, box.width(), sizes, scale, bold=bold)
    spare = box.width() - placed.width
    left = box.left() + {"left": 0.0, "centre": spare / 2, "right": spare}[align]
    cap = cap_height(placed.size, scale, bold=bold)
    _draw(painter, QPointF(left, box.center().y() + cap / 2), placed, scale, tone, bold=bold)
    return placed


def _draw(
    painter: QPainter, start: QPointF, placed: Placed, scale: float, tone: str, *, bold: bool
) -> None:
    metrics = _metrics(placed.size, scale, bold=bold)
    cap = metrics.capHeight()
    painter.setFont(font(placed.size, scale, bold=bold))
    painter.setPen(colour(tone))
    x, y = start.x(), start.y()
    for run in _RUNS.findall(placed.text):
        if run in glyphs.SIGNS:
            shape = glyphs.outline(run, cap, bold=bold).translated(x, y)
            painter.fillPath(shape, colour(tone))
            x += glyphs.advance(run, cap)
        else:
            painter.drawText(QPointF(x, y), run)
            x += metrics.horizontalAdvance(run)
