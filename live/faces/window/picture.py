"""A snapshot as a PNG, drawn offscreen by the same widgets that make up the window."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from PyQt6.QtCore import QPoint
from PyQt6.QtGui import QImage
from PyQt6.QtWidgets import QApplication

from live.daemon.snapshot import Snapshot
from live.faces.window.board import Board
from live.faces.window.layout import COMPACT, FULL
from live.faces.window.theme import THEMES, ThemeName
from live.faces.window.views import Moment, views_of

_app: list[QApplication] = []


def offscreen() -> None:
    """Make sure that widgets can be drawn, without a display if there is no application yet."""
    if QApplication.instance() is None:
        _app.append(QApplication(["undersong", "-platform", "offscreen"]))


def height_for(width_px: int) -> int:
    """The usual height in pixels for a width; the compact arrangement's below its limit."""
    base: Final = FULL if width_px >= FULL[0] else COMPACT
    return round(width_px * base[1] / base[0])


def draw(
    snapshot: Snapshot | None,
    theme: ThemeName,
    size: tuple[int, int],
    scale: float = 2.0,
    moment: Moment | None = None,
) -> QImage:
    """Draw the window at `size` logical pixels, each `scale` device pixels wide and high."""
    offscreen()
    now = moment or Moment()
    board = Board(THEMES[theme])
    board.resize(*size)
    board.show_views(views_of(snapshot, now), panicked=now.panicked)
    image = QImage(round(size[0] * scale), round(size[1] * scale), QImage.Format.Format_RGB32)
    image.setDevicePixelRatio(scale)
    board.render(image, QPoint())
    return image


def render_picture(
    snapshot: Snapshot | None,
    path: Path,
    theme: ThemeName = "dark",
    width_px: int = FULL[0],
    scale: float = 2.0,
    moment: Moment | None = None,
) -> None:
    """Write the window as it shows `snapshot` (None = no daemon) to a PNG file.

    Args:
        snapshot: what to show.
        path: of the file.
        theme: `dark` or `light`.
        width_px: in logical pixels, 432 or more; below 760 the compact arrangement is drawn.
        scale: device pixels in a logical one.
        moment: what the window itself would know, see `views.Moment`.
    Raises: OSError if the file cannot be written.
    Thread: the main thread. Needs no display.
    """
    size = (width_px, height_for(width_px))
    image = draw(snapshot, theme, size, scale, moment)
    if not image.save(str(path), "PNG"):
        raise OSError(f"cannot write the picture {path}")
