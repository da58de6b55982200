"""Buttons drawn as words: the values and the actions of the foot."""

from __future__ import annotations

from PyQt6.QtCore import QRectF, QSize, Qt, pyqtSignal
from PyQt6.QtGui import QKeyEvent, QPainter, QPaintEvent, QWheelEvent
from PyQt6.QtWidgets import QPushButton, QWidget

from live.faces.window import letters
from live.faces.window.controls import Action, Value
from live.faces.window.footview import ValueView
from live.faces.window.letters import Size
from live.faces.window.paint import colour, rounded
from live.faces.window.panel import Look

_RUN_GAP_PX, _NOTE_GAP_PX = 4, 5


class WordButton(QPushButton):
    """A button drawn as a word: no box, a line under it while it has the keyboard or the mouse."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.look = Look()
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.setAttribute(Qt.WidgetAttribute.WA_Hover)

    def set_look(self, look: Look) -> None:
        """Draw with other tones or in another size."""
        self.look = look
        self.update()

    def keyPressEvent(self, event: QKeyEvent | None) -> None:
        """Return presses the button, as Space does."""
        if event is not None and event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.click()
        elif event is not None and event.key() == Qt.Key.Key_Space:
            super().keyPressEvent(event)
        elif event is not None:
            event.ignore()

    def begin(self) -> QPainter:
        """A painter on cleared ground."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(QRectF(self.rect()), colour(self.look.theme.ground))
        return painter

    def underline(self, painter: QPainter, wide: float, tone: str) -> None:
        """A line under the first `wide` pixels."""
        tall = self.look.px(1.5)
        cap = letters.cap_height(Size.TEXT, self.look.scale)
        top = self.height() / 2 + cap / 2 + self.look.px(4)
        rounded(painter, QRectF(0, top, wide, tall), tall / 2, tone)

    @property
    def wanted(self) -> bool:
        """True while the mouse is over it or it has the keyboard."""
        return self.hasFocus() or self.underMouse()


def note_of(view: ValueView, look: Look) -> str:
    """The dim word; a pressing one is cut to its last part in the compact arrangement."""
    short = look.compact and view.keep_note
    return view.note.rpartition(" ")[2] if short else view.note


def runs_width(view: ValueView, look: Look, first: int = 0) -> float:
    """Width in pixels of the value's runs from `first` on."""
    runs = view.runs[first:]
    wide = sum(letters.width_of(text, Size.TEXT, look.scale, bold=bold) for text, bold in runs)
    return wide + look.px(_RUN_GAP_PX) * max(0, len(runs) - 1)


def value_width(view: ValueView, look: Look, *, note_shown: bool) -> float:
    """Width in pixels that a value takes when nothing is cut, with or without its dim word."""
    wide, note = runs_width(view, look), note_of(view, look)
    if note_shown and note:
        wide += look.px(_NOTE_GAP_PX) + letters.width_of(note, Size.TEXT, look.scale)
    return wide + 1


class ValueButton(WordButton):
    """A value and its dim word. Pressed, it asks to be edited; the wheel and arrows step it."""

    step_asked = pyqtSignal(int, bool)

    def __init__(self, value: Value, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.value = value
        self.view = ValueView(value.field, ((value.field, True),), "")
        self.note_shown = True
        self.setObjectName(f"value-{value.field}")
        self.setToolTip(f"{value.hint} ({value.shortcut})")
        self.setAccessibleDescription(f"{value.hint}. {value.shortcut} to change")

    def show_view(self, view: ValueView, *, note_shown: bool) -> None:
        """Show a value, with or without its dim word."""
        if (view, note_shown) == (self.view, self.note_shown):
            return
        self.view, self.note_shown = view, note_shown
        self.setAccessibleName(f"{view.field}: {view.text}, {view.note}")
        self.update()

    def paintEvent(self, event: QPaintEvent | None) -> None:
        """Draw the runs, then the word."""
        del event
        painter, theme = self.begin(), self.look.theme
        x = self._draw_runs(painter)
        if self.wanted:
            self.underline(painter, x, theme.dim)
        note = note_of(self.view, self.look)
        x += self.look.px(_NOTE_GAP_PX)
        if self.note_shown and note and x < self.width():
            place = QRectF(x, 0, self.width() - x, self.height())
            tone = theme.ink if note.endswith("lost") else theme.dim
            letters.write(painter, place, note, (Size.TEXT,), self.look.scale, tone)
        painter.end()

    def _draw_runs(self, painter: QPainter) -> float:
        """Draw as many runs as there is room for, dots for the rest; returns where they end."""
        x, scale, ink = 0.0, self.look.scale, self.look.theme.ink
        dots = letters.width_of("…", Size.TEXT, scale) + self.look.px(_RUN_GAP_PX)
        for index, (text, bold) in enumerate(self.view.runs):
            x += self.look.px(_RUN_GAP_PX) if index else 0.0
            place = QRectF(x, 0, max(0.0, self.width() - x), self.height())
            wide = letters.width_of(text, Size.TEXT, scale, bold=bold)
            whole = runs_width(self.view, self.look, index) <= place.width()
            if index and not whole and wide + dots > place.width():
                return x + letters.write(painter, place, "…", (Size.TEXT,), scale, ink).width
            x += letters.write(painter, place, text, (Size.TEXT,), scale, ink, bold=bold).width
        return x

    def wheelEvent(self, event: QWheelEvent | None) -> None:
        """One step a notch; with Control a fine one."""
        if event is not None and event.angleDelta().y():
            fine = bool(event.modifiers() & Qt.KeyboardModifier.ControlModifier)
            self.step_asked.emit(1 if event.angleDelta().y() > 0 else -1, fine)
            event.accept()

    def keyPressEvent(self, event: QKeyEvent | None) -> None:
        """Up and down step the value; with Control finely."""
        if event is not None and event.key() in (Qt.Key.Key_Up, Qt.Key.Key_Down):
            fine = bool(event.modifiers() & Qt.KeyboardModifier.ControlModifier)
            self.step_asked.emit(1 if event.key() == Qt.Key.Key_Up else -1, fine)
            return
        super().keyPressEvent(event)


class ActionButton(WordButton):
    """A word that acts at once. `on` puts a line of the accent under it: the answer is held."""

    def __init__(self, action: Action, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.action = action
        self.word = action.word
        self.on = False
        self.loud = False
        self.setObjectName(f"action-{action.word}")
        self.show_word(action.word)
        self.setToolTip(f"{action.meaning} ({action.shortcut})")
        self.setAccessibleDescription(f"{action.meaning}. {action.shortcut}")

    def show_word(self, word: str, *, on: bool = False, loud: bool = False) -> None:
        """Show the word; `loud` says that it was just done."""
        if (word, on, loud) != (self.word, self.on, self.loud) or not self.accessibleName():
            self.word, self.on, self.loud = word, on, loud
            self.setAccessibleName(f"{word}, on" if on else word)
            self.update()

    def sizeHint(self) -> QSize:
        """As wide as the word in bold."""
        wide = letters.width_of(self.word, Size.TEXT, self.look.scale, bold=True)
        return QSize(round(wide + 1.5), round(self.look.px(24)))

    def paintEvent(self, event: QPaintEvent | None) -> None:
        """Draw the word."""
        del event
        painter, theme = self.begin(), self.look.theme
        quiet = self.action.word == "panic" and not self.loud and not self.wanted
        tone = theme.dim if quiet or not self.isEnabled() else theme.ink
        bold = not quiet and self.isEnabled()
        box = QRectF(self.rect())
        placed = letters.write(
            painter, box, self.word, (Size.TEXT,), self.look.scale, tone, bold=bold
        )
        if self.on:
            self.underline(painter, placed.width, theme.answer)
        elif self.loud or self.wanted:
            self.underline(painter, placed.width, theme.ink if self.loud else theme.dim)
        painter.end()
