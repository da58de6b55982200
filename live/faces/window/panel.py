"""What every painted part has in common: it holds one view and repaints only when that changes."""

from __future__ import annotations

from abc import abstractmethod
from dataclasses import dataclass
from typing import Generic, TypeVar

from PyQt6.QtCore import QRectF, Qt
from PyQt6.QtGui import QPainter, QPaintEvent, QRegion
from PyQt6.QtWidgets import QLabel, QWidget

from live.faces.window.paint import colour
from live.faces.window.theme import DARK, Theme

V = TypeVar("V")


@dataclass(frozen=True, slots=True)
class Look:
    """How to draw: tones, the factor for type and lengths, and the arrangement."""

    theme: Theme = DARK
    scale: float = 1.0
    compact: bool = False

    def px(self, length: float) -> float:
        """A length given at scale 1, in pixels."""
        return length * self.scale


class Panel(QLabel, Generic[V]):
    """A part of the window. A label to Qt, so that a screen reader reads its words.

    Subclasses draw a view (a frozen value made from a snapshot) and put it into words.
    """

    def __init__(self, view: V, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.view = view
        self.look = Look()
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setAccessibleName(self.words(view))

    def set_look(self, look: Look) -> None:
        """Draw with other tones or in another size."""
        if look != self.look:
            self.look = look
            self.update()

    def show_view(self, view: V) -> None:
        """Show another view; repaints what differs, nothing if nothing does."""
        if view == self.view:
            return
        region = self.changed(self.view, view)
        self.view = view
        words = self.words(view)
        if words != self.accessibleName():
            self.setAccessibleName(words)
        self.update(region)

    def changed(self, old: V, new: V) -> QRegion:
        """The region to repaint when `new` takes the place of `old`."""
        del old, new
        return QRegion(self.rect())

    @abstractmethod
    def words(self, view: V) -> str:
        """The view as a sentence, for screen readers."""

    @abstractmethod
    def draw(self, painter: QPainter, box: QRectF) -> None:
        """Draw `self.view` into `box`."""

    def paintEvent(self, event: QPaintEvent | None) -> None:
        """Fill with the ground and draw, within the region Qt asks for."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if event is not None:
            painter.setClipRegion(event.region())
        box = QRectF(self.rect())
        painter.fillRect(box, colour(self.look.theme.ground))
        self.draw(painter, box)
        painter.end()
