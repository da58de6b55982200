"""The sign for a moved note: a ring on the key pressed, an arrow to the key that sounds."""

from __future__ import annotations

import math

from PyQt6.QtCore import QPointF, QRectF, Qt
from PyQt6.QtGui import QPainter, QPainterPath, QPainterPathStroker

from live.faces.window.keyboard import BLACK_HEIGHT, KeyBox
from live.faces.window.paint import colour
from live.faces.window.panel import Look
from live.faces.window.theme import best_ink


def draw_move(
    painter: QPainter, pressed: KeyBox, sounding: KeyBox | None, look: Look, *, silent: bool
) -> None:
    """Draw the ring, and the arrow unless the note is silent or lies out of sight.

    The sign is in the ink of the theme with an edge of ground; on the sounding key the two
    change places, so that it shows on every key.
    """
    start = _spot(pressed, 0.24, 0.66)
    radius = look.px(4)
    shape = QPainterPath()
    shape.addEllipse(start, radius, radius)
    line = QPainterPath()
    if sounding is not None:
        _add_arrow(line, start, _spot(sounding, 0.19, 0.60), radius)
    elif silent:
        line.moveTo(start.x() - radius * 0.7, start.y() + radius * 0.7)
        line.lineTo(start.x() + radius * 0.7, start.y() - radius * 0.7)
    shape.addPath(line)
    _paint(painter, shape, look, pressed, sounding)


def _spot(key: KeyBox, on_black: float, on_white: float) -> QPointF:
    """A point on the key's middle line, so far down the white keys' length that it is seen."""
    length = key.height / BLACK_HEIGHT if key.black else key.height
    return QPointF(key.x + key.width / 2, length * (on_black if key.black else on_white))


def _add_arrow(line: QPainterPath, start: QPointF, end: QPointF, radius: float) -> None:
    """A line from the rim of the ring at `start` to `end`, with two barbs."""
    across, down = end.x() - start.x(), end.y() - start.y()
    length = math.hypot(across, down) or 1.0
    x, y = across / length, down / length
    line.moveTo(start.x() + x * radius, start.y() + y * radius)
    line.lineTo(end)
    for side in (1.0, -1.0):
        line.moveTo(end)
        barb = radius * 1.1
        line.lineTo(end.x() - barb * (x - side * y), end.y() - barb * (y + side * x))


def _stroke(shape: QPainterPath, width: float) -> QPainterPath:
    stroker = QPainterPathStroker()
    stroker.setWidth(width)
    stroker.setCapStyle(Qt.PenCapStyle.RoundCap)
    stroker.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    return stroker.createStroke(shape)


def _visible(key: KeyBox, over: KeyBox) -> QPainterPath:
    """The key without what a black key beside it covers."""
    shape, cover = QPainterPath(), QPainterPath()
    shape.addRect(QRectF(key.x, 0, key.width, key.height))
    if over.black and not key.black:
        cover.addRect(QRectF(over.x, 0, over.width, over.height))
    return shape.subtracted(cover)


def _paint(
    painter: QPainter, shape: QPainterPath, look: Look, pressed: KeyBox, sounding: KeyBox | None
) -> None:
    edge, line = _stroke(shape, look.px(4.5)), _stroke(shape, look.px(1.8))
    theme = look.theme
    painter.fillPath(edge, colour(theme.ground))
    painter.fillPath(line, colour(theme.ink))
    if sounding is not None:
        painter.save()
        painter.setClipPath(_visible(sounding, pressed), Qt.ClipOperation.IntersectClip)
        painter.fillPath(edge, colour(theme.sounding))
        painter.fillPath(line, colour(best_ink(theme.sounding)))
        painter.restore()
