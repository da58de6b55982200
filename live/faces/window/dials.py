"""Widgets of the answer's controls: a dial between two words, and a switch."""

from __future__ import annotations

from typing import Final

from PyQt6.QtCore import QRectF, QSize, Qt
from PyQt6.QtGui import QMouseEvent, QPainter, QPaintEvent
from PyQt6.QtWidgets import QPushButton, QSlider, QWidget

from live.faces.window import letters
from live.faces.window.letters import Size
from live.faces.window.paint import colour, rounded, upright
from live.faces.window.panel import Look
from live.notes.taste import ENDS, SWITCH_WORDS, Taste

STEPS: Final = 100
"""Steps of a dial from end to end."""
_ROW_PX, _WIDE_PX = 24, 300
_WORD_SHARE: Final = 0.31


def _row_size(look: Look) -> QSize:
    return QSize(round(look.px(_WIDE_PX)), round(look.px(_ROW_PX)))


class Dial(QSlider):
    """A control between two words; the notch in the middle is where it asks for nothing."""

    def __init__(self, name: str, parent: QWidget) -> None:
        super().__init__(Qt.Orientation.Horizontal, parent)
        self.name = name
        self.look = Look()
        self.setRange(0, STEPS)
        self.setSingleStep(5)
        self.setPageStep(10)
        self.setAccessibleName(" to ".join(ENDS[name]))

    def sizeHint(self) -> QSize:
        """One row."""
        return _row_size(self.look)

    def mousePressEvent(self, event: QMouseEvent | None) -> None:
        """The dial goes where it is pressed."""
        if event is not None and event.button() == Qt.MouseButton.LeftButton:
            self.setSliderDown(True)
            self._go(event.position().x())

    def mouseMoveEvent(self, event: QMouseEvent | None) -> None:
        """And follows."""
        if event is not None and self.isSliderDown():
            self._go(event.position().x())

    def mouseReleaseEvent(self, event: QMouseEvent | None) -> None:
        """Until it is let go."""
        del event
        self.setSliderDown(False)

    def mouseDoubleClickEvent(self, event: QMouseEvent | None) -> None:
        """Twice: back to where it was at first."""
        del event
        self.setValue(round(getattr(Taste(), self.name) * STEPS))

    def _go(self, x: float) -> None:
        left, right = _track_ends(self)
        self.setValue(round((x - left) / (right - left) * STEPS))

    def paintEvent(self, event: QPaintEvent | None) -> None:
        """Both words, the track, and the dial in the answer's tone."""
        del event
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        look, box = self.look, QRectF(self.rect())
        painter.fillRect(box, colour(look.theme.ground))
        left, right = _track_ends(self)
        tone = look.theme.ink if self.hasFocus() else look.theme.dim
        sizes, gap = (Size.TEXT, Size.SMALL), look.px(8)
        ends = (QRectF(0, 0, left - gap, box.height()), QRectF(right + gap, 0, left, box.height()))
        for place, word, align in zip(ends, ENDS[self.name], ("right", "left"), strict=True):
            letters.write(
                painter, place, word, sizes, look.scale, tone, bold=self.hasFocus(),
                align="right" if align == "right" else "left",
            )  # fmt: skip
        middle, half = box.center().y(), look.px(1)
        rounded(painter, QRectF(left, middle - half, right - left, 2 * half), half, look.theme.line)
        usual = left + getattr(Taste(), self.name) * (right - left)
        upright(painter, usual, (middle - look.px(5), middle + look.px(5)), 1, look.theme.dim)
        radius, at = look.px(5), left + self.value() / STEPS * (right - left)
        dot = QRectF(at - radius, middle - radius, 2 * radius, 2 * radius)
        rounded(painter, dot, radius, look.theme.answer)
        painter.end()


class Switch(QPushButton):
    """A control that is on or off: its words, and a dot when it is on."""

    def __init__(self, name: str, parent: QWidget) -> None:
        super().__init__(SWITCH_WORDS[name], parent)
        self.name = name
        self.look = Look()
        self.setCheckable(True)

    def sizeHint(self) -> QSize:
        """One row."""
        return _row_size(self.look)

    def paintEvent(self, event: QPaintEvent | None) -> None:
        """The words where the tracks begin, the dot before them."""
        del event
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        look, box = self.look, QRectF(self.rect())
        painter.fillRect(box, colour(look.theme.ground))
        left = _track_ends(self)[0]
        place = QRectF(left, 0, box.width() - left, box.height())
        tone = look.theme.ink if self.hasFocus() or self.isChecked() else look.theme.dim
        letters.write(
            painter, place, self.text(), (Size.TEXT,), look.scale, tone, bold=self.isChecked()
        )
        radius = look.px(4)
        at = left - look.px(8) - radius
        dot = QRectF(at - radius, box.center().y() - radius, 2 * radius, 2 * radius)
        fill = look.theme.answer if self.isChecked() else None
        rounded(painter, dot, radius, fill, None if fill else look.theme.dim)
        painter.end()


def _track_ends(row: QWidget) -> tuple[float, float]:
    """Left and right end of a row's track in pixels."""
    return row.width() * _WORD_SHARE, row.width() * (1 - _WORD_SHARE)


def dress(row: Dial | Switch, look: Look) -> None:
    """Draw a row with other tones or in another size."""
    row.look = look
    row.updateGeometry()
    row.update()
