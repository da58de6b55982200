"""The painted whole: every part in its place, without a daemon or any input."""

from __future__ import annotations

from PyQt6.QtGui import QPainter, QPaintEvent, QResizeEvent
from PyQt6.QtWidgets import QWidget

from live.faces.window.choices import ROWS, ChoiceButton
from live.faces.window.degree import DegreePanel
from live.faces.window.foot import Foot
from live.faces.window.lanes import INSET_PX, LanesPanel
from live.faces.window.layout import MIN_SIZE, Box, Layout, arrange
from live.faces.window.paint import colour
from live.faces.window.panel import Look
from live.faces.window.status import StatusPanel
from live.faces.window.strip import StripPanel
from live.faces.window.theme import DARK, Theme
from live.faces.window.views import WAITING, Views


class Board(QWidget):
    """Lays the parts out for its size and hands each its view.

    Children are made in reading order, which is the order of the keyboard focus too.
    """

    def __init__(self, theme: Theme = DARK, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.theme = theme
        self.degree = DegreePanel(WAITING.degree, self)
        self.lanes = LanesPanel(WAITING.lanes, self)
        self.choices = tuple(ChoiceButton(self) for _ in range(ROWS))
        self.strip = StripPanel(WAITING.strip, self)
        self.foot = Foot(WAITING.foot, self)
        self.status = StatusPanel(WAITING.status, self)
        self.setMinimumSize(*MIN_SIZE)
        self.set_theme(theme)

    @property
    def layout_now(self) -> Layout:
        """The arrangement for the present size."""
        return arrange(max(self.width(), MIN_SIZE[0]), max(self.height(), MIN_SIZE[1]))

    def set_theme(self, theme: Theme) -> None:
        """Change the tones."""
        self.theme = theme
        self._lay_out()
        self.update()

    def show_views(self, views: Views, *, panicked: bool = False) -> None:
        """Hand each part its view; a part whose view is the same does nothing."""
        self.degree.show_view(views.degree)
        self.lanes.show_view(views.lanes)
        for index, button in enumerate(self.choices):
            button.show_row(views.choices[index] if index < len(views.choices) else None)
            button.show_note(views.choices_note if index == 0 else "")
        self.strip.show_view(views.strip)
        self.foot.show_view(views.foot, panicked=panicked)
        self.status.show_view(views.status)

    def resizeEvent(self, event: QResizeEvent | None) -> None:
        """Lay the parts out anew."""
        super().resizeEvent(event)
        self._lay_out()

    def paintEvent(self, event: QPaintEvent | None) -> None:
        """The ground between the parts."""
        del event
        painter = QPainter(self)
        painter.fillRect(self.rect(), colour(self.theme.ground))
        painter.end()

    def _lay_out(self) -> None:
        layout = self.layout_now
        look = Look(self.theme, layout.scale, layout.compact)
        for part, box in (
            (self.degree, layout.degree),
            (self.lanes, layout.lanes),
            (self.strip, layout.strip),
            (self.foot, layout.foot),
            (self.status, layout.status),
        ):
            _place(part, box)
            part.set_look(look)
        self._lay_choices(layout.choices, look)

    def _lay_choices(self, box: Box, look: Look) -> None:
        gap, inset = round(look.px(4)), round(look.px(INSET_PX))
        box = Box(box.x, box.y + inset, box.width, box.height - 2 * inset)
        tall = (box.height - gap * (ROWS - 1)) / ROWS
        for index, button in enumerate(self.choices):
            top = box.y + round(index * (tall + gap))
            bottom = box.y + round(index * (tall + gap) + tall)
            _place(button, Box(box.x, top, box.width, bottom - top))
            button.set_look(look)


def _place(part: QWidget, box: Box) -> None:
    part.setGeometry(box.x, box.y, box.width, box.height)
