"""The computer keyboard in the window: note keys, function keys, and nothing that clashes."""

from __future__ import annotations

from typing import Final

from PyQt6.QtCore import QObject, Qt, pyqtSignal
from PyQt6.QtGui import QGuiApplication, QKeyEvent

from live.faces.window.controls import Field
from live.faces.window.notekeys import MOUSE, NoteKeys, place

_EDITS: Final[dict[int, Field]] = {
    Qt.Key.Key_F1: "key",
    Qt.Key.Key_F2: "snap",
    Qt.Key.Key_F3: "progression",
    Qt.Key.Key_F4: "tempo",
    Qt.Key.Key_F5: "form",
}
_ACTIONS: Final[dict[int, str]] = {
    Qt.Key.Key_Space: "start",
    Qt.Key.Key_F6: "again",
    Qt.Key.Key_F11: "more",
    Qt.Key.Key_F7: "keep",
    Qt.Key.Key_F8: "hold",
    Qt.Key.Key_F9: "panic",
    Qt.Key.Key_Escape: "panic",
}
TASTE_KEY: Final = Qt.Key.Key_F10
"""Shows and hides the answer's controls."""
DRILL_KEY: Final = Qt.Key.Key_F12
"""Starts and ends a drill."""
_CHORD_KEYS: Final = (
    Qt.KeyboardModifier.ControlModifier
    | Qt.KeyboardModifier.AltModifier
    | Qt.KeyboardModifier.MetaModifier
)


class KeyInput(QObject):
    """Turns key events of the window into what they ask for."""

    edit_asked = pyqtSignal(str)
    action_asked = pyqtSignal(str)
    choice_asked = pyqtSignal(int)
    taste_asked = pyqtSignal()
    drill_asked = pyqtSignal()
    note_on = pyqtSignal(int)
    note_off = pyqtSignal(int)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.notes = NoteKeys()

    def press(self, event: QKeyEvent) -> bool:
        """Handle a key that went down; False if it means nothing here."""
        if event.isAutoRepeat() or event.modifiers() & _CHORD_KEYS:
            return False
        key = event.key()
        if key in _EDITS:
            self.edit_asked.emit(_EDITS[key])
        elif key in _ACTIONS:
            self.action_asked.emit(_ACTIONS[key])
        elif key == TASTE_KEY:
            self.taste_asked.emit()
        elif key == DRILL_KEY:
            self.drill_asked.emit()
        elif Qt.Key.Key_1 <= key <= Qt.Key.Key_9:
            self.choice_asked.emit(key - int(Qt.Key.Key_0))
        else:
            return self._press_note(event)
        return True

    def _press_note(self, event: QKeyEvent) -> bool:
        letter = self._letter(event)
        note = self.notes.press(letter)
        if note is not None:
            self.note_on.emit(note)
        return bool(letter)

    def release(self, event: QKeyEvent) -> bool:
        """Handle a key that came up."""
        if event.isAutoRepeat():
            return False
        letter = self._letter(event)
        is_note = letter in self.notes.down
        self._end(letter)
        return is_note

    def hold(self, note: int) -> None:
        """The mouse presses a key of the picture."""
        self.notes.hold(note)
        self.note_on.emit(note)

    def let_go(self) -> None:
        """The mouse lets its key go."""
        self._end(MOUSE)

    def _end(self, letter: str) -> None:
        note = self.notes.release(letter)
        if note is not None:
            self.note_off.emit(note)

    def release_all(self) -> None:
        """End every note that a computer key or the mouse holds."""
        for note in self.notes.release_all():
            self.note_off.emit(note)

    @staticmethod
    def _letter(event: QKeyEvent) -> str:
        # The character of a key can change while it is down (Shift): its code is steadier.
        code = event.key()
        character = chr(code) if 0x20 <= code < 0x7F else event.text()
        return place(event.nativeScanCode(), character, QGuiApplication.platformName())
