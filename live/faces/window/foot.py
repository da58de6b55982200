"""The foot: five values that can be changed on the left, the actions on the right."""

from __future__ import annotations

from typing import Final

from PyQt6.QtCore import QRect, pyqtSignal
from PyQt6.QtGui import QPainter, QPaintEvent, QResizeEvent
from PyQt6.QtWidgets import QWidget

from live.faces.window.controls import ACTIONS, VALUES, Field
from live.faces.window.footview import FootView, ValueView, notes_to_drop
from live.faces.window.paint import colour
from live.faces.window.panel import Look
from live.faces.window.wordbutton import ActionButton, ValueButton, WordButton, value_width

_GAP_PX, _COMPACT_GAP_PX = 18, 9
_FIRST_TO_GO: Final = "form"
"""The value that is hidden where there is no room; its function key still edits it."""


class Foot(QWidget):
    """The row of words. It says what was asked for; it changes nothing itself."""

    edit_asked = pyqtSignal(str)
    step_asked = pyqtSignal(str, int, bool)
    action_asked = pyqtSignal(str)

    def __init__(self, view: FootView, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.look = Look()
        self.view = view
        self.panicked = False
        self._covered = (0, 0)
        self._crowded = False
        self.values = {value.field: ValueButton(value, self) for value in VALUES}
        self.doers = {action.word: ActionButton(action, self) for action in ACTIONS}
        for field, button in self.values.items():
            button.clicked.connect(lambda _, f=field: self.edit_asked.emit(f))
            button.step_asked.connect(lambda w, fine, f=field: self.step_asked.emit(f, w, fine))
        for word, action in self.doers.items():
            action.clicked.connect(lambda _, w=word: self.action_asked.emit(w))
        self._show()

    @property
    def buttons(self) -> tuple[WordButton, ...]:
        """Every button from left to right."""
        return (*self.values.values(), *self.doers.values())

    def set_look(self, look: Look) -> None:
        """Draw with other tones or in another size."""
        self.look = look
        for button in self.buttons:
            button.set_look(look)
        self._arrange()
        self.update()

    def show_view(self, view: FootView, *, panicked: bool) -> None:
        """Show another view; `panicked` while a panic has just been done."""
        if (view, panicked) != (self.view, self.panicked):
            self.view, self.panicked = view, panicked
            self._show()

    def make_way(self, left: int, right: int) -> None:
        """Hide the values that an editor between these pixels would cover; none for (0, 0)."""
        self._covered = (left, right)
        for button in self.values.values():
            covered = button.x() < right and left < button.geometry().right()
            crowded_out = self._crowded and button.value.field == _FIRST_TO_GO
            button.setVisible(not covered and not crowded_out)

    def _show(self) -> None:
        view, doers = self.view, self.doers
        doers["start"].setVisible(view.startable)
        doers["start"].show_word("stop" if view.playing else "start")
        doers["keep"].setEnabled(view.answered)
        doers["again"].setEnabled(view.again)
        doers["hold"].setEnabled(view.answered or view.held)
        doers["hold"].show_word("hold", on=view.held)
        doers["panic"].show_word("panic", loud=self.panicked)
        self._arrange()

    def resizeEvent(self, event: QResizeEvent | None) -> None:
        """Arrange anew."""
        super().resizeEvent(event)
        self._arrange()

    def paintEvent(self, event: QPaintEvent | None) -> None:
        """The ground between the words."""
        del event
        painter = QPainter(self)
        painter.fillRect(self.rect(), colour(self.look.theme.ground))
        painter.end()

    def _gap(self) -> float:
        return self.look.px(_COMPACT_GAP_PX if self.look.compact else _GAP_PX)

    def _arrange(self) -> None:
        """Actions at the right in their own widths; values share what is left."""
        right = float(self.width())
        for action in reversed(self.doers.values()):
            if action.isHidden():
                continue
            wide = action.sizeHint().width()
            action.setGeometry(QRect(round(right - wide), 0, wide, self.height()))
            right -= wide + self._gap()
        self._arrange_values(right - self._gap() / 2)

    def _arrange_values(self, room: float) -> None:
        views = {view.field: view for view in self.view.values}
        if not views:
            for button in self.values.values():
                button.hide()
            return
        dropped = self._dropped(room)
        widths, over = self._squeezed(self._widths(dropped), room)
        self._crowded = over > 0.5
        if self._crowded:  # the form goes before the key's name is cut
            whole = self._widths(dropped)
            del whole[_FIRST_TO_GO]
            widths, over = self._squeezed(whole, room)
            cut = min(max(0.0, over), max(0.0, widths["key"] - self.look.px(50)))
            widths["key"] -= cut
        x = 0.0
        for field, wide in widths.items():
            button = self.values[field]
            button.show_view(views[field], note_shown=self._noted(views[field], dropped))
            button.setGeometry(QRect(round(x), 0, round(wide + 0.5), self.height()))
            x += wide + self._gap()
        self.make_way(*self._covered)

    def _squeezed(
        self, widths: dict[Field, float], room: float
    ) -> tuple[dict[Field, float], float]:
        """(widths with as little of the progression as must be, pixels that are still too many)."""
        over = sum(widths.values()) + self._gap() * (len(widths) - 1) - room
        cut = min(max(0.0, over), max(0.0, widths["progression"] - self.look.px(30)))
        return {**widths, "progression": widths["progression"] - cut}, over - cut

    def _noted(self, view: ValueView, dropped: tuple[Field, ...]) -> bool:
        return view.keep_note or view.field not in dropped

    def _widths(self, dropped: tuple[Field, ...]) -> dict[Field, float]:
        return {
            view.field: value_width(view, self.look, note_shown=self._noted(view, dropped))
            for view in self.view.values
        }

    def _dropped(self, room: float) -> tuple[Field, ...]:
        """The first set of dim words whose absence makes the values fit, or the longest set."""
        dropped: tuple[Field, ...] = ()
        for dropped in notes_to_drop(self.look.compact):
            widths = self._widths(dropped).values()
            if sum(widths) + self._gap() * (len(widths) - 1) <= room:
                break
        return dropped
