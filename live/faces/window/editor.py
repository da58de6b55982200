"""The inline editor: a value of the foot is typed in its place."""

from __future__ import annotations

from collections.abc import Sequence

from PyQt6.QtCore import QRect, Qt, pyqtSignal
from PyQt6.QtGui import QFocusEvent, QKeyEvent
from PyQt6.QtWidgets import QCompleter, QLineEdit, QWidget

from live.faces.window import letters
from live.faces.window.controls import Command, Value, typed
from live.faces.window.letters import Size
from live.faces.window.panel import Look


class Editor(QLineEdit):
    """Return sends what was typed, Escape leaves it as it was; an error keeps the editor open."""

    entered = pyqtSignal(tuple)
    left = pyqtSignal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.value: Value | None = None
        self.setFrame(False)
        self.hide()
        self.returnPressed.connect(self._enter)

    def open(self, value: Value, text: str, names: Sequence[str], box: QRect, look: Look) -> None:
        """Begin to edit a value in `box`; `names` complete what is typed."""
        self.value = value
        theme, pad = look.theme, look.px(4)
        self.setFont(letters.font(Size.TEXT, look.scale, bold=True))
        self.setStyleSheet(
            f"QLineEdit {{ background: {theme.panel}; color: {theme.ink};"
            f" border: 1px solid {theme.dim}; border-radius: 3px; padding: 0 {pad:.0f}px;"
            f" selection-background-color: {theme.ink}; selection-color: {theme.ground}; }}"
        )
        self.setCompleter(self._completer(names))
        self.setAccessibleName(value.field)
        self.setAccessibleDescription(value.hint)
        self.setText(text)
        self.setGeometry(box)
        self.show()
        self.raise_()
        self.setFocus(Qt.FocusReason.OtherFocusReason)
        self.selectAll()

    def _completer(self, names: Sequence[str]) -> QCompleter | None:
        if not names:
            return None
        completer = QCompleter(names, self)
        completer.setCompletionMode(QCompleter.CompletionMode.InlineCompletion)
        completer.setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
        return completer

    def _enter(self) -> None:
        if self.value is not None:
            command: Command = typed(self.value.field, self.text())
            self.entered.emit(command)

    def close_editor(self) -> None:
        """Put the editor away."""
        if self.value is not None:
            self.value = None
            self.hide()
            self.left.emit()

    def keyPressEvent(self, event: QKeyEvent | None) -> None:
        """Escape leaves; everything else is typing."""
        if event is not None and event.key() == Qt.Key.Key_Escape:
            self.close_editor()
            return
        super().keyPressEvent(event)

    def focusOutEvent(self, event: QFocusEvent | None) -> None:
        """Going elsewhere in the window leaves the value as it was."""
        super().focusOutEvent(event)
        if event is not None and event.reason() in (
            Qt.FocusReason.MouseFocusReason,
            Qt.FocusReason.TabFocusReason,
            Qt.FocusReason.BacktabFocusReason,
        ):
            self.close_editor()
