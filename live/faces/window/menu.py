"""The window's own menu, on the right mouse button or the menu key."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from PyQt6.QtGui import QAction
from PyQt6.QtWidgets import QMenu, QWidget

from live.daemon.snapshot import Snapshot
from live.faces.window.layout import COMPACT, FULL
from live.faces.window.letters import Size, font
from live.faces.window.remember import THEME_CHOICES, Memory
from live.faces.window.theme import Theme
from live.practice.questions import ASKS

SIZES = {"compact": COMPACT, "usual": FULL, "wall": (FULL[0] * 5 // 2, FULL[1] * 5 // 2)}
"""Sizes to pick, in logical pixels."""
COMMANDS: Final[dict[str, tuple[str, ...]]] = {
    "labels": ("labels",),
    "asks": ("set", "practice.asks"),
}
"""Wishes that are the daemon's affair: the words of the command before the value."""


def menu_style(theme: Theme) -> str:
    """A style sheet for menus and tool tips in a theme's tones."""
    frame = f"background: {theme.panel}; color: {theme.ink}; border: 1px solid {theme.line};"
    return (
        f"QToolTip {{ {frame} padding: 3px; }}"
        f"QMenu {{ {frame} padding: 4px; }}"
        "QMenu::item { padding: 4px 22px 4px 24px; }"
        f"QMenu::item:selected {{ background: {theme.line}; }}"
        f"QMenu::separator {{ height: 1px; background: {theme.line}; margin: 4px 8px; }}"
        f"QMenu::indicator {{ width: 7px; height: 7px; left: 9px; }}"
        f"QMenu::indicator:checked {{ background: {theme.ink}; border-radius: 3px; }}"
    )


class WindowMenu(QMenu):
    """How the window looks and how degrees are named; calls `pick(what, value)` for each wish."""

    def __init__(
        self,
        memory: Memory,
        snapshot: Snapshot | None,
        pick: Callable[[str, str], None],
        parent: QWidget,
    ) -> None:
        super().__init__(parent)
        labels = snapshot.labels if snapshot else ""
        self._pick = pick
        self.setFont(font(Size.TEXT, 1.0, bold=False))
        self._choice("labels", "degrees against the major scale", "major", on=labels == "major")
        self._choice("labels", "degrees as plain numbers", "plain", on=labels == "plain")
        self.addSeparator()
        self._choice("more", "answers like this one (F11)", "")
        self._choice("taste", "shape the answers (F10)", "")
        self._choice("drill", "drill the degrees (F12)", "")
        for asked in ASKS:
            on = asked == snapshot.drill.asks if snapshot else False
            self._choice("asks", f"a drill asks {asked}", asked, on=on)
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
