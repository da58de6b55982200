"""Histograms as a PNG, one under the other, drawn offscreen."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Final

from PyQt6.QtCore import QRectF
from PyQt6.QtGui import QImage, QPainter

from live.faces.window.letters import Size, write
from live.faces.window.paint import colour, crisp, upright
from live.faces.window.picture import offscreen
from live.faces.window.theme import DARK

Row = tuple[str, Sequence[int]]
"""(name, a count for each bin)."""

_WIDTH: Final = 640
_MARGIN: Final = 24
_TITLE: Final = 24
_BARS: Final = 84
_LABELS: Final = 20
_ROW: Final = _TITLE + _BARS + _LABELS
_SCALE: Final = 2.0
_COUNT_ROOM: Final = 14
_GAP: Final = 3


def draw_histograms(rows: Sequence[Row], labels: Sequence[str], limit: int, unit: str) -> QImage:
    """Draw each row's bins with their counts; bars are as high as their share of the fullest.

    Args:
        rows: what was counted; each has as many bins as there are labels.
        labels: lower edge of each bin.
        limit: the bin at whose lower edge a line stands.
        unit: written after the last label.
    """
    offscreen()
    height = 2 * _MARGIN + len(rows) * _ROW
    size = (round(_WIDTH * _SCALE), round(height * _SCALE))
    image = QImage(*size, QImage.Format.Format_RGB32)
    image.setDevicePixelRatio(_SCALE)
    image.fill(colour(DARK.ground))
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    for number, (name, counts) in enumerate(rows):
        top = _MARGIN + number * _ROW
        title = f"{name} ({sum(counts)}, {unit})"
        box = QRectF(_MARGIN, top, _WIDTH - 2 * _MARGIN, _TITLE)
        write(painter, box, title, (Size.HEAD, Size.TEXT), 1.0, DARK.ink)
        _draw_bars(painter, top + _TITLE, counts, labels, limit)
    painter.end()
    return image


def bar_box(number: int, of: int, top: float, share: float) -> QRectF:
    """Where the bar of a bin is, `share` (0 to 1) of the full height."""
    wide = (_WIDTH - 2 * _MARGIN) / of
    full = _BARS - _COUNT_ROOM
    tall = full * share
    left = _MARGIN + number * wide
    return QRectF(left + _GAP / 2, top + _BARS - tall, wide - _GAP, tall)


def _draw_bars(
    painter: QPainter, top: float, counts: Sequence[int], labels: Sequence[str], limit: int
) -> None:
    most = max(counts, default=0) or 1
    for number, (count, label) in enumerate(zip(counts, labels, strict=True)):
        box = bar_box(number, len(labels), top, count / most)
        if count:
            painter.fillRect(crisp(painter, box), colour(DARK.call))
            above = QRectF(box.left() - _GAP, box.top() - _COUNT_ROOM, box.width() + 2 * _GAP, 12)
            write(painter, above, str(count), (Size.SMALL,), 1.0, DARK.ink, align="centre")
        under = QRectF(box.left(), top + _BARS, box.width(), _LABELS)
        write(painter, under, label, (Size.SMALL,), 1.0, DARK.dim)
    edge = bar_box(limit, len(labels), top, 1.0).left() - _GAP / 2
    upright(painter, edge, (top, top + _BARS), 1.0, DARK.dim)


def render_histograms(
    rows: Sequence[Row], labels: Sequence[str], limit: int, unit: str, path: Path
) -> None:
    """Write what `draw_histograms` draws as PNG. Needs no display.

    Raises: OSError if the file cannot be written.
    """
    if not draw_histograms(rows, labels, limit, unit).save(str(path), "PNG"):
        raise OSError(f"cannot write the picture {path}")
