"""A window without a display, with what it sent."""

from __future__ import annotations

from PyQt6.QtCore import Qt
from PyQt6.QtTest import QTest
from PyQt6.QtWidgets import QApplication

from live.faces.window.controls import Command
from live.faces.window.remember import Memory
from live.faces.window.window import Window


class Desk:
    """A window and what it sent."""

    def __init__(self, memory: Memory) -> None:
        self.sent: list[Command] = []
        self.window = Window(self.sent.append, memory)

    def open(self) -> Window:
        self.window.show()
        self.window.activateWindow()
        QApplication.processEvents()
        return self.window


def press(desk: Desk, key: Qt.Key, text: str = "") -> None:
    target = QApplication.focusWidget() or desk.window
    if text:
        QTest.keyClicks(target, text)
    else:
        QTest.keyClick(target, key)
