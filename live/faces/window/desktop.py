"""What the desktop asks for and what it lets a window do."""

from __future__ import annotations

from PyQt6.QtCore import Qt
from PyQt6.QtGui import QGuiApplication
from PyQt6.QtWidgets import QApplication, QStyle

from live.faces.window.theme import THEMES, Theme


def wanted_theme(name: str) -> Theme:
    """The theme for `auto`, `light` or `dark`; `auto` is dark unless the system says light."""
    if name == "auto":
        hints = QGuiApplication.styleHints()
        light = hints is not None and hints.colorScheme() == Qt.ColorScheme.Light
        name = "light" if light else "dark"
    return THEMES[name]


def motion_is_reduced() -> bool:
    """True if the desktop asks for no animation (its style then gives them no time)."""
    style = QApplication.style()
    hint = QStyle.StyleHint.SH_Widget_Animation_Duration
    return style is not None and style.styleHint(hint) == 0


def places_are_kept() -> bool:
    """False on Wayland, where a window can neither learn nor choose its place."""
    return QGuiApplication.platformName() != "wayland"
