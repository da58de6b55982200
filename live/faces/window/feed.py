"""The link, on threads of its own: the newest snapshot up, commands down, and coming back."""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable
from pathlib import Path
from queue import Empty, Full, Queue
from typing import Any, Final, Protocol

from PyQt6.QtCore import QObject, QTimer, pyqtSignal, pyqtSlot

from live.daemon.link import LinkClient, LinkError
from live.daemon.snapshot import Snapshot
from live.faces.window.controls import Command

LEAST_INTERVAL_S: Final = 1 / 30
"""Least time between two snapshots that reach the widgets."""
RETRY_S: Final = 0.5
MAX_WAITING: Final = 256
"""Commands that may wait for the daemon; those beyond are refused with a sentence."""

log = logging.getLogger(__name__)


class Link(Protocol):
    """What the feed needs of a link client."""

    def tell(self, command: str, *args: str) -> dict[str, Any]:
        """Send a command, wait for the reply."""

    def watch(self) -> Any:  # noqa: ANN401 - an iterator of snapshots, whatever its class
        """Snapshots as they come."""

    def close(self) -> None:
        """End the connection."""


Connect = Callable[[], Link]


def connector(path: Path | None) -> Connect:
    """Connects to the daemon at `path`, None = the user's; the window's keys are its own."""
    return lambda: LinkClient.connect(path, plays=True)


class Feed(QObject):
    """Reads snapshots and sends commands, each on a thread; signals arrive on the window's thread.

    Args:
        connect: makes a connection or raises LinkError; called on either thread.
    Thread: methods from the window's thread.
    """

    arrived = pyqtSignal(object)
    gone = pyqtSignal(str)
    replied = pyqtSignal(object, object)
    _woken = pyqtSignal()

    def __init__(self, connect: Connect, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._connect = connect
        self._newest: Snapshot | None = None  # written by the reader, taken by the window
        self._lock = threading.Lock()
        self._wanted = threading.Event()
        self._ended = threading.Event()
        self._watching: Link | None = None
        self._commands: Queue[Command | None] = Queue(MAX_WAITING)
        self._last_s = 0.0
        self._later = QTimer(self)
        self._later.setSingleShot(True)
        self._later.timeout.connect(self._deliver)
        self._woken.connect(self._take)
        self._threads = [
            threading.Thread(target=run, name=name, daemon=True)
            for run, name in ((self._read, "snapshots"), (self._send, "commands"))
        ]

    def start(self) -> None:
        """Begin; snapshots flow once `set_wanted(True)` was called."""
        for thread in self._threads:
            thread.start()

    def set_wanted(self, wanted: bool) -> None:  # noqa: FBT001 - the name says which
        """Snapshots are wanted while the window can be seen; else the connection is closed."""
        if wanted:
            self._wanted.set()
        else:
            self._wanted.clear()
            self._cut()

    def send(self, command: Command) -> None:
        """Send a command; the reply comes as `replied(command, reply)`."""
        try:
            self._commands.put_nowait(command)
        except Full:
            self.replied.emit(command, {"ok": False, "error": "Undersong does not answer"})

    def stop(self) -> None:
        """End both threads; what was sent before goes out first. Safe to call twice."""
        if self._ended.is_set():
            return
        try:
            self._commands.put_nowait(None)
        except Full:
            log.warning("commands still waited for the daemon when the window closed")
        self._threads[1].join(1.0)
        self._ended.set()
        self._wanted.set()
        self._cut()
        self._threads[0].join(1.0)

    def _cut(self) -> None:
        with self._lock:
            link = self._watching
        if link is not None:
            link.close()

    @pyqtSlot()
    def _take(self) -> None:
        """A snapshot waits: show it now, or as soon as the least interval has passed."""
        rest = LEAST_INTERVAL_S - (time.monotonic() - self._last_s)
        if rest <= 0:
            self._deliver()
        elif not self._later.isActive():
            self._later.start(max(1, round(rest * 1000)))

    @pyqtSlot()
    def _deliver(self) -> None:
        with self._lock:
            snapshot, self._newest = self._newest, None
        if snapshot is not None and self._wanted.is_set():
            self._last_s = time.monotonic()
            self.arrived.emit(snapshot)

    # The reader thread.

    def _read(self) -> None:
        while True:
            self._wanted.wait()
            if self._ended.is_set():
                return
            try:
                self._watch_once()
            except (LinkError, OSError, ValueError, KeyError, TypeError) as error:
                self.gone.emit(str(error))
            self._ended.wait(RETRY_S)

    def _watch_once(self) -> None:
        link = self._connect()
        with self._lock:
            self._watching = link
        try:
            for snapshot in link.watch():
                if not self._wanted.is_set() or self._ended.is_set():
                    return
                self._post(snapshot)
            if self._wanted.is_set() and not self._ended.is_set():
                raise LinkError("Undersong has ended")
        finally:
            with self._lock:
                self._watching = None
            link.close()

    def _post(self, snapshot: Snapshot) -> None:
        with self._lock:
            waits = self._newest is not None
            self._newest = snapshot
        if not waits:
            self._woken.emit()

    # The command thread.

    def _send(self) -> None:
        link: Link | None = None
        while True:
            try:
                command = self._commands.get(timeout=None if link is None else 60.0)
            except Empty:
                continue
            if command is None:
                break
            link = self._tell(link, command)
        if link is not None:
            link.close()

    def _tell(self, link: Link | None, command: Command) -> Link | None:
        """Tell the daemon, on a new connection if there is none or the old one has ended."""
        for attempt in range(2):
            fresh = link is None
            try:
                link = link or self._connect()
                reply = link.tell(*command)
            except (LinkError, OSError, ValueError) as error:
                if link is not None:
                    link.close()
                link, reply = None, {"ok": False, "error": str(error)}
                if fresh or attempt:
                    break
            else:
                break
        self.replied.emit(command, reply)
        return link
