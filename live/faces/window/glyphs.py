"""Flat, sharp and natural signs as shapes of our own.

Few interface fonts hold these signs; what a system puts in their place is thin and hangs off the
line. These stand on the line, and follow the weight and size of the text around them.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final

from PyQt6.QtCore import QPointF, Qt
from PyQt6.QtGui import QPainterPath, QPolygonF

SIGNS: Final = "♭♯♮𝄫𝄪"
_ADVANCE: Final = {"♭": 0.62, "♯": 0.84, "♮": 0.62, "𝄫": 1.10, "𝄪": 0.74}
"""Widths in cap heights, side bearing included; our own drawing."""


def advance(sign: str, cap_px: float) -> float:
    """Width of a sign set beside capitals `cap_px` pixels high."""
    return _ADVANCE[sign] * cap_px


@lru_cache(maxsize=64)
def outline(sign: str, cap_px: float, *, bold: bool) -> QPainterPath:
    """The sign's shape in pixels; its origin is on the base line at the left."""
    stroke = 0.15 if bold else 0.10
    if sign == "♭":
        return _flat(0.03, cap_px, stroke)
    if sign == "𝄫":
        path = _flat(0.03, cap_px, stroke)
        path.addPath(_flat(0.49, cap_px, stroke))
        return path
    if sign == "♯":
        return _sharp(cap_px, stroke)
    if sign == "♮":
        return _natural(cap_px, stroke)
    return _double_sharp(cap_px, stroke)


def _polygon(path: QPainterPath, cap: float, points: list[tuple[float, float]]) -> None:
    path.addPolygon(QPolygonF([QPointF(x * cap, y * cap) for x, y in points]))
    path.closeSubpath()


def _flat(left: float, cap: float, stroke: float) -> QPainterPath:
    """A stem that rises a little above the capitals and a bowl that comes to a point below."""
    stem = stroke * 0.86
    inner = left + stem

    def at(x: float, y: float) -> QPointF:
        return QPointF((left + x) * cap, y * cap)

    path = QPainterPath(at(0, -1.04))
    path.setFillRule(Qt.FillRule.OddEvenFill)
    path.lineTo(at(stem, -1.04))
    path.lineTo(at(stem, -0.585))
    path.cubicTo(at(0.22, -0.70), at(0.545, -0.73), at(0.545, -0.455))
    path.cubicTo(at(0.545, -0.25), at(0.30, -0.12), at(0, 0.02))
    path.closeSubpath()
    wide = 0.545 - stroke * 1.12
    path.moveTo(inner * cap, -0.44 * cap)
    path.cubicTo(at(stem + 0.08, -0.55), at(wide, -0.585), at(wide, -0.43))
    path.cubicTo(at(wide, -0.30), at(stem + 0.10, -0.22), at(stem, -0.165))
    path.closeSubpath()
    return path


def _bar(path: QPainterPath, cap: float, ends: tuple[float, float], y: float, thick: float) -> None:
    """A slanted bar between two x places, rising to the right, centred on `y`."""
    left, right = ends
    rise = 0.14 * (right - left)
    half = thick / 2
    _polygon(
        path,
        cap,
        [
            (left, y + rise / 2 - half),
            (right, y - rise / 2 - half),
            (right, y - rise / 2 + half),
            (left, y + rise / 2 + half),
        ],
    )


def _post(path: QPainterPath, cap: float, x: float, span: tuple[float, float], w: float) -> None:
    top, bottom = span
    _polygon(path, cap, [(x, top), (x + w, top), (x + w, bottom), (x, bottom)])


def _sharp(cap: float, stroke: float) -> QPainterPath:
    path = QPainterPath()
    path.setFillRule(Qt.FillRule.WindingFill)
    thin, thick = stroke * 0.74, stroke * 1.04
    _post(path, cap, 0.22, (-1.0, 0.04), thin)
    _post(path, cap, 0.58 - thin, (-1.06, -0.02), thin)
    _bar(path, cap, (0.04, 0.76), -0.70, thick)
    _bar(path, cap, (0.04, 0.76), -0.33, thick)
    return path


def _natural(cap: float, stroke: float) -> QPainterPath:
    path = QPainterPath()
    path.setFillRule(Qt.FillRule.WindingFill)
    thin, thick = stroke * 0.8, stroke
    _post(path, cap, 0.06, (-1.10, -0.26), thin)
    _post(path, cap, 0.50 - thin, (-0.76, 0.06), thin)
    _bar(path, cap, (0.06, 0.50), -0.68, thick)
    _bar(path, cap, (0.06, 0.50), -0.34, thick)
    return path


def _double_sharp(cap: float, stroke: float) -> QPainterPath:
    path = QPainterPath()
    path.setFillRule(Qt.FillRule.WindingFill)
    left, right, top, bottom, w = 0.08, 0.62, -0.78, -0.24, stroke * 0.7
    _polygon(
        path,
        cap,
        [(left, top), (left + w, top), (right, bottom), (right - w, bottom)],
    )
    _polygon(
        path,
        cap,
        [(right - w, top), (right, top), (left + w, bottom), (left, bottom)],
    )
    return path
