"""The answer's controls in a small window of their own, so that the answer stays in sight."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from PyQt6.QtCore import QRect, Qt, QTimer
from PyQt6.QtGui import QKeyEvent, QPainter, QPaintEvent
from PyQt6.QtWidgets import QVBoxLayout, QWidget

from live.faces.window.controls import Command
from live.faces.window.dials import STEPS, Dial, Switch, dress
from live.faces.window.keys import TASTE_KEY, KeyInput
from live.faces.window.paint import colour
from live.faces.window.panel import Look
from live.notes.taste import DIALS, SWITCHES, Taste

SEND_MS: Final = 80
"""While a dial moves it is told at most this often (own choice: a dozen times a second)."""
_PAD_PX, _FRAME_PX = 10, 38


class TasteWindow(QWidget):
    """Every control of the answer. Keys that mean nothing here go to the main window.

    Args:
        send: takes the command that a moved control asks for.
        keys: takes notes, panic and the other keys.
        parent: the main window.
    """

    def __init__(self, send: Callable[[Command], None], keys: KeyInput, parent: QWidget) -> None:
        super().__init__(parent, Qt.WindowType.Tool)
        self._send, self._keys = send, keys
        self._look = Look()
        self.setWindowTitle("Undersong: the answer")
        self.setAccessibleName("the answer's controls")
        self.dials = {name: Dial(name, self) for name in DIALS}
        self.switches = {name: Switch(name, self) for name in SWITCHES}
        self._waiting: dict[str, str] = {}
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.timeout.connect(self._tell)
        rows = QVBoxLayout(self)
        rows.setSpacing(0)
        for name, dial in self.dials.items():
            rows.addWidget(dial)
            dial.valueChanged.connect(lambda value, n=name: self._moved(n, f"{value / STEPS:g}"))
        for name, switch in self.switches.items():
            rows.addWidget(switch)
            switch.clicked.connect(lambda on, n=name: self._moved(n, "on" if on else "off"))

    def toggle(self, look: Look, beside: QRect) -> None:
        """Show it above a window, or below one that leaves no room; hide it if it is there."""
        if not self.isHidden():
            self.hide()
            return
        self.set_look(look)
        top = beside.top() - self.height() - _FRAME_PX
        self.move(beside.right() - self.width(), top if top > 0 else beside.bottom() + 1)
        self.show()
        self.activateWindow()

    def set_look(self, look: Look) -> None:
        """Draw with other tones or in another size."""
        self._look = look
        pad = round(look.px(_PAD_PX))
        layout = self.layout()
        if layout is not None:
            layout.setContentsMargins(pad, pad, pad, pad)
        rows: list[Dial | Switch] = [*self.dials.values(), *self.switches.values()]
        for row in rows:
            dress(row, look)
        self.setFixedSize(self.minimumSizeHint().expandedTo(self.sizeHint()))
        self.update()

    def show_taste(self, taste: Taste) -> None:
        """Show what the daemon says, except of a control that is being moved."""
        for name, dial in self.dials.items():
            if not dial.isSliderDown() and name not in self._waiting:
                dial.blockSignals(True)
                dial.setValue(round(getattr(taste, name) * STEPS))
                dial.blockSignals(False)
                dial.update()
        for name, switch in self.switches.items():
            switch.setChecked(getattr(taste, name))

    def _moved(self, name: str, value: str) -> None:
        self._waiting[name] = value
        if not self._timer.isActive():
            self._timer.start(SEND_MS)

    def _tell(self) -> None:
        for name, value in self._waiting.items():
            self._send(("set", f"taste.{name}", value))
        self._waiting.clear()

    def paintEvent(self, event: QPaintEvent | None) -> None:
        """The ground around the rows."""
        del event
        painter = QPainter(self)
        painter.fillRect(self.rect(), colour(self._look.theme.ground))
        painter.end()

    def keyPressEvent(self, event: QKeyEvent | None) -> None:
        """The toggle closes it; other keys belong to the main window."""
        if event is not None:
            if event.key() == TASTE_KEY:
                self.hide()
            else:
                self._keys.press(event)

    def keyReleaseEvent(self, event: QKeyEvent | None) -> None:
        """The end of a note."""
        if event is not None:
            self._keys.release(event)
