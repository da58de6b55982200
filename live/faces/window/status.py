"""The last line: ports and losses, or one sentence when there is something to say."""

from __future__ import annotations

from dataclasses import dataclass

from PyQt6.QtCore import QRectF
from PyQt6.QtGui import QPainter

from live.faces.window import letters
from live.faces.window.letters import Size
from live.faces.window.panel import Panel


@dataclass(frozen=True, slots=True)
class StatusView:
    """A line of text, `strong` when it is news, and a short one at the right."""

    text: str = ""
    strong: bool = False
    aside: str = ""


class StatusPanel(Panel[StatusView]):
    """One line; what does not fit is in the tool tip."""

    def words(self, view: StatusView) -> str:
        """The line."""
        return ". ".join(part for part in (view.text, view.aside) if part)

    def show_view(self, view: StatusView) -> None:
        """Show another line."""
        super().show_view(view)
        self.setToolTip(self.words(view))

    def draw(self, painter: QPainter, box: QRectF) -> None:
        """Draw both texts."""
        theme, scale, view = self.look.theme, self.look.scale, self.view
        small = (Size.SMALL,)
        wide = letters.width_of(view.aside, Size.SMALL, scale, bold=True)
        gap = self.look.px(12) if view.aside else 0.0
        place = QRectF(box.left(), box.top(), max(0.0, box.width() - wide - gap), box.height())
        tone = theme.ink if view.strong else theme.dim
        letters.write(painter, place, view.text, small, scale, tone, bold=view.strong)
        letters.write(painter, box, view.aside, small, scale, theme.ink, bold=True, align="right")
