"""The window's own menu, on the right mouse button or the menu key."""

from __future__ import annotations

from collections.abc import Callable

from PyQt6.QtGui import QAction
from PyQt6.QtWidgets import QMenu, QWidget

from live.faces.window.layout import COMPACT, FULL
from live.faces.window.remember import THEME_CHOICES, Memory

SIZES = {"compact": COMPACT, "usual": FULL, "wall": (FULL[0] * 5 // 2, FULL[1] * 5 // 2)}
"""Sizes to pick, in logical pixels."""


class WindowMenu(QMenu):
    """How the window looks and how degrees are named; calls `pick(what, value)` for each wish."""

    def __init__(
        self, memory: Memory, labels: str, pick: Callable[[str, str], None], parent: QWidget
    ) -> None:
        super().__init__(parent)
        self._pick = pick
        self._choice("labels", "degrees against the major scale", "major", on=labels == "major")
        self._choice("labels", "degrees as plain numbers", "plain", on=labels == "plain")
        self.addSeparator()
        self._choice("on_top", "stay on top", "", on=memory.on_top)
        self._choice("still", "no motion", "", on=memory.still)
        self.addSeparator()
        for theme in THEME_CHOICES:
            self._choice("theme", f"{theme} tones", theme, on=memory.theme == theme)
        self.addSeparator()
        for size in SIZES:
            self._choice("size", f"{size} size", size)

    def _choice(self, what: str, words: str, value: str, *, on: bool | None = None) -> None:
        action = QAction(words, self)
        action.setObjectName(f"{what} {value}".strip())
        if on is not None:
            action.setCheckable(True)
            action.setChecked(on)
        action.triggered.connect(lambda _: self._pick(what, value))
        self.addAction(action)
