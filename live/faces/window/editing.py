"""Editing a value of the foot: opens the editor over it, and closes it once it is accepted."""

from __future__ import annotations

from collections.abc import Callable

from PyQt6.QtCore import QObject, QRect
from PyQt6.QtWidgets import QWidget

from live.daemon.snapshot import Snapshot
from live.faces.window import letters
from live.faces.window.controls import VALUES, Command, Field, Value, hint, names, shown
from live.faces.window.editor import Editor
from live.faces.window.foot import Foot
from live.faces.window.letters import Size
from live.faces.window.panel import Look

_LEAST_PX, _PAD_PX = 70, 22


class Editing(QObject):
    """The one editor of a window.

    Args:
        window: the editor lies in it, and it has the keyboard again afterwards.
        foot: what is edited.
        send: takes the command that was typed.
        show_hint: says what may be typed, "" = no longer.
    """

    def __init__(
        self,
        window: QWidget,
        foot: Foot,
        send: Callable[[Command], None],
        show_hint: Callable[[str], None],
    ) -> None:
        super().__init__(window)
        self._window, self._foot, self._show_hint = window, foot, show_hint
        self.editor = Editor(window)
        self.editor.entered.connect(send)
        self.editor.left.connect(self._left)

    def open(self, field: Field, snapshot: Snapshot) -> None:
        """Edit a value of `snapshot`."""
        value = next(value for value in VALUES if value.field == field)
        text = shown(field, snapshot)
        foot = self._foot
        self._show_hint(hint(value, snapshot))
        box = self._box(value, text, foot.look)
        foot.make_way(box.left() - foot.x(), box.right() - foot.x())
        self.editor.open(value, text, names(field, snapshot), box, foot.look)

    def _box(self, value: Value, text: str, look: Look) -> QRect:
        """Over the value, as wide as what is typed needs, within the foot."""
        foot = self._foot
        wide = letters.width_of(text, Size.TEXT, look.scale, bold=True) + look.px(_PAD_PX)
        room = max(wide, look.px(_LEAST_PX), look.px(180) if value.field == "progression" else 0)
        width = min(round(room), foot.width())
        left = min(foot.values[value.field].x(), foot.width() - width)
        place = QRect(foot.x() + left, foot.y(), width, foot.height())
        return place.adjusted(-round(look.px(5)), 0, round(look.px(5)), 0)

    def accepted(self, command: Command) -> None:
        """The daemon took the command: if it came from the editor, put that away."""
        value = self.editor.value
        if value is not None and command[0] == value.field:
            self.editor.close_editor()

    def close(self) -> None:
        """Put the editor away."""
        self.editor.close_editor()

    def _left(self) -> None:
        self._foot.make_way(0, 0)
        self._show_hint("")
        self._window.setFocus()
