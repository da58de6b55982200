"""Small painting helpers: colours, rounded shapes, and lines that fall on whole device pixels."""

from __future__ import annotations

from functools import lru_cache

from PyQt6.QtCore import QRectF, Qt
from PyQt6.QtGui import QColor, QPainter, QPainterPath, QPen


@lru_cache(maxsize=512)
def colour(tone: str) -> QColor:
    """`#rrggbb` as Qt knows it."""
    return QColor(tone)


def crisp(painter: QPainter, box: QRectF) -> QRectF:
    """`box` with all four sides on whole pixels of the device; never thinner than one of them."""
    to_device = painter.deviceTransform()
    there = to_device.mapRect(box)
    left, top = round(there.left()), round(there.top())
    wide = max(1, round(there.right()) - left)
    tall = max(1, round(there.bottom()) - top)
    back, _ = to_device.inverted()
    return back.mapRect(QRectF(left, top, wide, tall))


def rounded(
    painter: QPainter,
    box: QRectF,
    radius: float,
    fill: str | None,
    edge: str | None = None,
    edge_width: float = 1.0,
) -> None:
    """A rounded rectangle; its edge lies inside `box`."""
    shape = crisp(painter, box)
    if fill is not None:
        path = QPainterPath()
        path.addRoundedRect(shape, radius, radius)
        painter.fillPath(path, colour(fill))
    if edge is not None:
        inset = edge_width / 2
        painter.setPen(QPen(colour(edge), edge_width))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRoundedRect(shape.adjusted(inset, inset, -inset, -inset), radius, radius)


def upright(painter: QPainter, x: float, span: tuple[float, float], wide: float, tone: str) -> None:
    """A vertical line about `wide` pixels wide from `span[0]` down to `span[1]`, sharp."""
    scale = painter.deviceTransform().m11() or 1.0
    thick = max(1, round(wide * scale)) / scale
    line = crisp(painter, QRectF(x - thick / 2, span[0], thick, span[1] - span[0]))
    line.setWidth(thick)
    painter.fillRect(line, colour(tone))
