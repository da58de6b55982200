"""What the window keeps between runs: place, size, tones, and two wishes. Nothing of the music."""

from __future__ import annotations

from dataclasses import dataclass, replace

from PyQt6.QtCore import QSettings

from live.faces.window.layout import FULL, MIN_SIZE, Box

THEME_CHOICES = ("auto", "light", "dark")


@dataclass(frozen=True, slots=True)
class Memory:
    """Kept values; `box` is the window's place and size in logical pixels, None = never placed."""

    box: Box | None = None
    theme: str = "auto"
    on_top: bool = True
    still: bool = False


def _settings() -> QSettings:
    return QSettings(QSettings.Format.IniFormat, QSettings.Scope.UserScope, "undersong", "window")


def recall() -> Memory:
    """Read what was kept; whatever cannot be read counts as never kept."""
    store, memory = _settings(), Memory()
    theme = str(store.value("theme", "auto"))
    return replace(
        memory,
        box=_box(str(store.value("box", ""))),
        theme=theme if theme in THEME_CHOICES else "auto",
        on_top=store.value("on_top", "true") != "false",
        still=store.value("still", "false") == "true",
    )


def _box(text: str) -> Box | None:
    parts = text.split()
    try:
        x, y, width, height = (int(part) for part in parts)
    except ValueError:
        return None
    return Box(x, y, max(width, MIN_SIZE[0]), max(height, MIN_SIZE[1]))


def keep(memory: Memory) -> None:
    """Write it down."""
    store = _settings()
    if memory.box is not None:
        box = memory.box
        store.setValue("box", f"{box.x} {box.y} {box.width} {box.height}")
    store.setValue("theme", memory.theme)
    store.setValue("on_top", "true" if memory.on_top else "false")
    store.setValue("still", "true" if memory.still else "false")
    store.sync()


def usual_size() -> tuple[int, int]:
    """Size of a window that was never resized."""
    return FULL
