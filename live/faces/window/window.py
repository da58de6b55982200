"""The window: shows snapshots, turns what the player does into commands, keeps its own wishes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any, Final

from PyQt6.QtCore import QEvent, Qt, QTimer, pyqtSignal
from PyQt6.QtGui import QCloseEvent, QContextMenuEvent, QGuiApplication, QKeyEvent
from PyQt6.QtWidgets import QApplication, QWidget

from live.daemon.snapshot import Snapshot
from live.faces.window import controls
from live.faces.window.board import Board
from live.faces.window.controls import Command, Field
from live.faces.window.desktop import motion_is_reduced, places_are_kept, wanted_theme
from live.faces.window.editing import Editing
from live.faces.window.keys import KeyInput
from live.faces.window.layout import Box, on_screen
from live.faces.window.menu import COMMANDS, SIZES, WindowMenu, menu_style
from live.faces.window.remember import Memory, usual_size
from live.faces.window.taste import TasteWindow
from live.faces.window.theme import Theme
from live.faces.window.views import Moment, views_of

NEWS_MS: Final = 8000
"""How long an error stays, unless something else is done first."""
PANIC_MS: Final = 2000
FRAME_PX: Final = (6, 38)
"""Room left at the sides and at the top of a screen for the frame that the desktop draws."""
Send = Callable[[Command], None]


class Window(Board):
    """The whole window.

    Args:
        send: takes a command; the reply comes back through `take_reply`.
        memory: wishes kept from the last run.
    Thread: the main one.
    """

    visible_changed = pyqtSignal(bool)

    def __init__(self, send: Send, memory: Memory, parent: QWidget | None = None) -> None:
        self.memory = memory
        super().__init__(wanted_theme(memory.theme), parent)
        self.send = send
        self.snapshot: Snapshot | None = None
        self.moment = Moment()
        self._told = ("auto", True)  # what the settings said last of tones and staying on top
        self.keys = KeyInput(self)
        self.editing = Editing(self, self.foot, send, self.show_hint)
        self.taste = TasteWindow(self.send, self.keys, self)
        self._calm = self._timer(lambda: self._set(panicked=False))
        self._forget_error = self._timer(lambda: self._set(error=""))
        self.setWindowTitle("Undersong")
        self.setAccessibleName("Undersong")
        self.setAttribute(Qt.WidgetAttribute.WA_ShowWithoutActivating)
        # Without a focus of its own the window would hand the keyboard to one of its buttons.
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setFocus()
        self.setWindowFlag(Qt.WindowType.WindowStaysOnTopHint, memory.on_top)
        self.lanes.still = memory.still or motion_is_reduced()
        self._place()
        self._connect()

    def _timer(self, then: Callable[[], None]) -> QTimer:
        timer = QTimer(self)
        timer.setSingleShot(True)
        timer.timeout.connect(then)
        return timer

    def _connect(self) -> None:
        self.keys.note_on.connect(lambda note: self.send(("note", "on", str(note))))
        self.keys.note_off.connect(lambda note: self.send(("note", "off", str(note))))
        self.strip.pressed.connect(self.keys.hold)
        self.strip.released.connect(self.keys.let_go)
        self.keys.edit_asked.connect(self.edit)
        self.keys.action_asked.connect(self.act)
        self.keys.choice_asked.connect(self.choose)
        self.keys.taste_asked.connect(self.toggle_taste)
        self.keys.drill_asked.connect(self.toggle_drill)
        self.foot.edit_asked.connect(self.edit)
        self.foot.step_asked.connect(self.step)
        self.foot.action_asked.connect(self.act)
        for button in self.choices:
            button.asked.connect(self.choose)
        hints = QGuiApplication.styleHints()
        if hints is not None:
            hints.colorSchemeChanged.connect(lambda _: self._refresh_theme())

    def _place(self) -> None:
        """Where it was, moved onto a screen that exists; in the usual size the first time."""
        areas = [screen.availableGeometry() for screen in QGuiApplication.screens()]
        side, top = FRAME_PX
        screens = [
            Box(a.x() + side, a.y() + top, a.width() - 2 * side, a.height() - top - side)
            for a in areas
        ]
        if self.memory.box is None or not screens:
            self.resize(*usual_size())
            return
        box = on_screen(self.memory.box, screens)
        self.resize(box.width, box.height)
        if places_are_kept():
            self.setGeometry(box.x, box.y, box.width, box.height)

    # What comes in

    def take_snapshot(self, snapshot: Snapshot) -> None:
        """Show a snapshot."""
        before = self.snapshot
        self.snapshot = snapshot
        if before is not None and snapshot.panics > before.panics:
            self.moment = replace(self.moment, panicked=True)
            self._calm.start(PANIC_MS)
        self.moment = replace(self.moment, gone="")
        self.taste.show_taste(snapshot.taste)
        self._obey(snapshot.theme, on_top=snapshot.on_top)
        self._show()

    def take_gone(self, why: str) -> None:
        """The daemon is not there, for the reason given."""
        self.snapshot = None
        self.editing.close()
        self.taste.hide()
        self.keys.notes.release_all()
        self._set(gone=why, panicked=False)

    def take_reply(self, command: Command, reply: dict[str, Any]) -> None:
        """The daemon's answer to a command: an error stays for a while, or until the next."""
        if reply.get("ok"):
            self.editing.accepted(command)
            self._set(error="")
        else:
            self._set(error=str(reply.get("error", "the daemon refused")))
            self._forget_error.start(NEWS_MS)

    def _set(self, **changes: Any) -> None:  # noqa: ANN401 - fields of Moment
        self.moment = replace(self.moment, **changes)
        self._show()

    def show_hint(self, hint: str) -> None:
        """Say what may be typed; "" ends it, and whatever error there was."""
        self._set(hint=hint, error="")

    def _show(self) -> None:
        self.show_views(views_of(self.snapshot, self.moment), panicked=self.moment.panicked)

    # What goes out

    def act(self, word: str) -> None:
        """Do one of the actions of the foot."""
        if word == "panic":
            self.keys.notes.release_all()
        if word == "start":
            if self.snapshot is not None:
                self.send(controls.transport(self.snapshot))
        else:
            self.send((word,))

    def choose(self, rank: int) -> None:
        """Ask for the choice of this rank, if there is one."""
        if self.snapshot and any(choice.rank == rank for choice in self.snapshot.choices):
            self.send(("choose", str(rank)))

    def edit(self, field: Field) -> None:
        """Open the editor on a value of the foot."""
        if self.snapshot is not None:
            self.keys.release_all()
            self.activateWindow()
            self.editing.open(field, self.snapshot)

    def step(self, field: Field, way: int, fine: bool) -> None:  # noqa: FBT001 - from a signal
        """One step of a value."""
        if self.snapshot is not None:
            command = controls.stepped(field, self.snapshot, way, fine=fine)
            if command is not None:
                self.send(command)

    def toggle_taste(self) -> None:
        """Show or hide the answer's controls."""
        if self.snapshot is not None:
            self.taste.toggle(self.foot.look, self.frameGeometry())

    def toggle_drill(self) -> None:
        """Begin to ask degrees, or end it."""
        if self.snapshot is not None:
            self.send(("drill", "stop" if self.snapshot.drill.on else "start"))

    # Its own wishes

    def pick(self, what: str, value: str) -> None:
        """Carry out a wish from the menu."""
        if what in COMMANDS:
            self.send((*COMMANDS[what], value))
        elif what == "more":
            self.act("more")
        elif what == "taste":
            self.toggle_taste()
        elif what == "drill":
            self.toggle_drill()
        elif what == "size":
            self.resize(*SIZES[value])
        elif what == "theme":
            self._look_like(value, on_top=self.memory.on_top)
        elif what == "still":
            self.memory = replace(self.memory, still=not self.memory.still)
            self.lanes.still = self.memory.still or motion_is_reduced()
        elif what == "on_top":
            self._look_like(self.memory.theme, on_top=not self.memory.on_top)

    def _look_like(self, theme: str, *, on_top: bool) -> None:
        """Wear other tones; stay above other windows, or no longer."""
        before, self.memory = self.memory, replace(self.memory, theme=theme, on_top=on_top)
        self._refresh_theme()
        if on_top != before.on_top:
            self.setWindowFlag(Qt.WindowType.WindowStaysOnTopHint, on_top)
            self.show()

    def _obey(self, theme: str, *, on_top: bool) -> None:
        """What the settings say of the window; what they have said before, the menu may change."""
        told, self._told = self._told, (theme, on_top)
        if told != self._told:
            on_top = self.memory.on_top if on_top == told[1] else on_top
            self._look_like(self.memory.theme if theme == told[0] else theme, on_top=on_top)

    def _refresh_theme(self) -> None:
        self.set_theme(wanted_theme(self.memory.theme))

    def set_theme(self, theme: Theme) -> None:
        """Change the tones, those of the menu and of tool tips with them."""
        super().set_theme(theme)
        self.setStyleSheet(menu_style(theme))

    def wishes(self) -> Memory:
        """What to keep for the next run."""
        if not places_are_kept():
            return self.memory
        place = self.geometry()
        box = Box(place.x(), place.y(), place.width(), place.height())
        return replace(self.memory, box=box)

    # Qt's events

    def contextMenuEvent(self, event: QContextMenuEvent | None) -> None:
        """The window's menu."""
        if event is not None:
            menu = WindowMenu(self.memory, self.snapshot, self.pick, self)
            menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
            menu.popup(event.globalPos())

    def keyPressEvent(self, event: QKeyEvent | None) -> None:
        """Notes and shortcuts."""
        if event is not None and not self.keys.press(event):
            super().keyPressEvent(event)

    def keyReleaseEvent(self, event: QKeyEvent | None) -> None:
        """The end of a note."""
        if event is not None and not self.keys.release(event):
            super().keyReleaseEvent(event)

    def changeEvent(self, event: Any) -> None:  # noqa: ANN401 - Qt's event
        """Going to the background ends notes of the computer keyboard; minimised is unseen."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.ActivationChange and not self.isActiveWindow():
            self.keys.release_all()
        elif event.type() == QEvent.Type.WindowStateChange:
            self._tell_visible()

    def showEvent(self, event: Any) -> None:  # noqa: ANN401 - Qt's event
        """Seen from now on."""
        super().showEvent(event)
        self._tell_visible()

    def hideEvent(self, event: Any) -> None:  # noqa: ANN401 - Qt's event
        """Not seen any more."""
        super().hideEvent(event)
        self.let_go()
        self._tell_visible()

    def let_go(self) -> None:
        """End every note that a computer key or the mouse holds."""
        self.keys.release_all()
        self.strip.release_mouse_key()

    def _tell_visible(self) -> None:
        self.visible_changed.emit(self.isVisible() and not self.isMinimized())

    def closeEvent(self, event: QCloseEvent | None) -> None:
        """Closing ends the event loop, and the window goes after it.

        Were it destroyed while the loop runs, Qt would complain of paints that still wait.
        """
        if event is not None:
            event.ignore()
        QApplication.exit(0)
