"""The link as the daemon serves it: one thread, any number of faces, none of which can slow it."""

from __future__ import annotations

import contextlib
import json
import selectors
import socket
import threading
from collections.abc import Callable
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Final

from live.daemon.address import listen

MAX_LINE_BYTES: Final = 65_536
"""Longest request a face may send (own choice)."""
MAX_WAITING_BYTES: Final = 1_000_000
"""A face that reads so slowly is cut off; it may connect again."""

Ask = Callable[[int, str, list[str]], None]
"""ask(face, command, args): called on the link thread; the reply comes later through `reply`."""


class _Face:
    """One connected face."""

    def __init__(self, sock: socket.socket, token: str) -> None:
        self.sock = sock
        self.token = token
        self.inbox = b""
        self.outbox = b""
        self.newest = ""  # the snapshot that follows when the outbox is empty
        self.watches = False
        self.plays = False


class LinkServer:
    """Serves faces on a thread of its own.

    Args:
        path: the link's path.
        ask: takes a command in; must return at once.
        joined: called when a face begins to watch, on the link thread; must return at once.
        plays: likewise when a face says, with its first command, that it holds keys itself.
        left: likewise when such a face has gone, of its own accord or killed.
    Raises: LinkError if the link cannot be opened or another daemon has it.
    Thread: `reply`, `publish` and `close` from any thread.
    """

    def __init__(
        self,
        path: Path,
        ask: Ask,
        joined: Callable[[], None] = lambda: None,
        plays: Callable[[int], None] = lambda _face: None,
        left: Callable[[int], None] = lambda _face: None,
    ) -> None:
        self._path = path
        self._ask = ask
        self._joined, self._plays, self._left = joined, plays, left
        self._listener, self._token = listen(path)
        self._listener.setblocking(False)
        self._wake_out, self._wake_in = socket.socketpair()
        self._wake_in.setblocking(False)
        self._wake_out.setblocking(False)
        self._outgoing: SimpleQueue[tuple[int, str] | None] = SimpleQueue()
        self._faces: dict[int, _Face] = {}
        self._number = 0
        self._selector = selectors.DefaultSelector()
        self._selector.register(self._listener, selectors.EVENT_READ)
        self._selector.register(self._wake_in, selectors.EVENT_READ)
        self.watchers = 0
        """How many faces watch. Written by the link thread only."""
        self._thread = threading.Thread(target=self._run, name="link", daemon=True)
        self._thread.start()

    def reply(self, face: int, answer: dict[str, object]) -> None:
        """Answer a face's command."""
        self._put((face, json.dumps(answer)))

    def publish(self, snapshot_json: str) -> None:
        """Send a snapshot to every face that watches."""
        self._put((0, snapshot_json))

    def close(self) -> None:
        """Send what waits, then end the thread and remove the link. Safe to call twice."""
        if self._thread.is_alive():
            self._outgoing.put(None)
            self._wake()
            self._thread.join(2.0)
        self._path.unlink(missing_ok=True)

    def _put(self, item: tuple[int, str]) -> None:
        self._outgoing.put(item)
        self._wake()

    def _wake(self) -> None:
        with contextlib.suppress(OSError):  # full: the thread is awake anyway
            self._wake_out.send(b"\0")

    # Everything below runs on the link thread.

    def _run(self) -> None:
        running = True
        while running:
            for key, events in self._selector.select():
                if key.fileobj is self._listener:
                    self._accept()
                elif key.fileobj is self._wake_in:
                    self._wake_in.recv(4096)
                    running = self._take_outgoing()
                else:
                    self._serve(key.data, events)
        for number in list(self._faces):
            self._write(number)
            self._drop(number)
        self._listener.close()
        self._wake_in.close()
        self._wake_out.close()
        self._selector.close()

    def _accept(self) -> None:
        try:
            sock, _ = self._listener.accept()
        except OSError:
            return
        sock.setblocking(False)
        self._number += 1
        self._faces[self._number] = _Face(sock, self._token)
        self._selector.register(sock, selectors.EVENT_READ, self._number)

    def _take_outgoing(self) -> bool:
        """Hand out replies and the newest snapshot. False when the server is to end."""
        newest = ""
        while True:
            try:
                item = self._outgoing.get_nowait()
            except Empty:
                break
            if item is None:
                return False
            number, text = item
            if number == 0:
                newest = text
            else:
                self._queue(number, text)
        if newest:
            for number in [n for n, face in self._faces.items() if face.watches]:
                # A face that has not read the last snapshot yet gets the newest of all then.
                if self._faces[number].outbox:
                    self._faces[number].newest = newest
                else:
                    self._queue(number, newest)
        return True

    def _queue(self, number: int, text: str) -> None:
        face = self._faces.get(number)
        if face is not None:
            face.outbox += text.encode("utf-8") + b"\n"
            self._write(number)

    def _write(self, number: int) -> None:
        face = self._faces[number]
        try:
            sent = face.sock.send(face.outbox) if face.outbox else 0
            face.outbox = face.outbox[sent:]
        except BlockingIOError:
            pass
        except OSError:
            self._drop(number)
            return
        if len(face.outbox) > MAX_WAITING_BYTES:
            self._drop(number)
            return
        if face.newest and not face.outbox:
            face.outbox, face.newest = face.newest.encode("utf-8") + b"\n", ""
        wanted = selectors.EVENT_READ | (selectors.EVENT_WRITE if face.outbox else 0)
        self._selector.modify(face.sock, wanted, number)

    def _serve(self, number: int, events: int) -> None:
        if events & selectors.EVENT_WRITE:
            self._write(number)
        face = self._faces.get(number)
        if face is None or not events & selectors.EVENT_READ:
            return
        try:
            data = face.sock.recv(65_536)
        except BlockingIOError:
            return
        except OSError:
            data = b""
        face.inbox += data
        if not data or len(face.inbox) > MAX_LINE_BYTES:
            self._drop(number)
            return
        *lines, face.inbox = face.inbox.split(b"\n")
        for line in lines:
            self._line(number, face, line)

    def _line(self, number: int, face: _Face, line: bytes) -> None:
        if face.token:
            if line.decode("ascii", "replace") != face.token:
                self._drop(number)
            face.token = ""
            return
        try:
            message = json.loads(line)
            if message.get("watch"):
                face.watches = True
                self.watchers = sum(f.watches for f in self._faces.values())
                self._joined()
                return
            command, args = message["tell"], message.get("args", [])
            if message.get("plays") and not face.plays:
                face.plays = True
                self._plays(number)
            self._ask(number, str(command), [str(arg) for arg in args])
        except (ValueError, KeyError, AttributeError, TypeError, RecursionError):
            self._queue(number, '{"ok": false, "error": "not a request of the link"}')

    def _drop(self, number: int) -> None:
        face = self._faces.pop(number, None)
        if face is not None:
            self._selector.unregister(face.sock)
            face.sock.close()
            self.watchers = sum(f.watches for f in self._faces.values())
            if face.plays:
                self._left(number)
