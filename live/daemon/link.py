"""The link as faces see it: ask the daemon, or watch its snapshots. JSON, a line each.

A face sends `{"tell": "key", "args": ["D minor"]}` and gets one line back, or sends
`{"watch": true}` and gets snapshots, at most 30 a second, until one side ends. A face whose
commands also say `"plays": true` has keys of its own (`note`), which come up when it has gone.
"""

from __future__ import annotations

import contextlib
import json
import socket
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Self

from live.daemon.address import LinkError, connect, link_path
from live.daemon.snapshot import Snapshot, snapshot_from_json

__all__ = ["LinkClient", "LinkError"]


class LinkClient:
    """One connection to the daemon. Thread: one at a time.

    Args:
        path: the link's path, None = the user's daemon.
        timeout_s: longest wait for a reply.
        plays: the notes that it plays end with the connection.
    Raises: LinkError when no daemon runs there.
    """

    def __init__(
        self, path: Path | None = None, timeout_s: float = 3.0, *, plays: bool = False
    ) -> None:
        self._socket = connect(path or link_path(), timeout_s)
        self._reader = self._socket.makefile("rb")
        self._plays = {"plays": True} if plays else {}

    @classmethod
    def connect(
        cls, path: Path | None = None, timeout_s: float = 3.0, *, plays: bool = False
    ) -> LinkClient:
        """The same as the constructor, for reading aloud."""
        return cls(path, timeout_s, plays=plays)

    def tell(self, command: str, *args: str) -> dict[str, Any]:
        """Send a command and wait for its reply.

        Returns: `{"ok": true, ...}` or `{"ok": false, "error": "..."}`.
        Raises: LinkError if the daemon does not answer.
        """
        self._send({"tell": command, "args": list(args), **self._plays})
        reply: dict[str, Any] = json.loads(self._line())
        return reply

    def watch(self) -> Iterator[Snapshot]:
        """Snapshots as they come; ends when the daemon ends or the client is closed.

        A connection that watches can tell nothing any more: open a second one for that.
        """
        self._send({"watch": True})
        self._socket.settimeout(None)
        while True:
            try:
                line = self._reader.readline()
            except (OSError, ValueError):  # closed by the other side, or by us
                return
            if not line.endswith(b"\n"):
                return
            yield snapshot_from_json(line.decode("utf-8"))

    def fileno(self) -> int:
        """The socket's descriptor, for select."""
        return self._socket.fileno()

    def close(self) -> None:
        """End the connection; a `watch` in another thread ends too. Safe to call twice."""
        with contextlib.suppress(OSError):  # the other side may have been faster
            self._socket.shutdown(socket.SHUT_RDWR)
        self._reader.close()
        self._socket.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        self.close()

    def _send(self, message: dict[str, object]) -> None:
        try:
            self._socket.sendall(json.dumps(message).encode("utf-8") + b"\n")
        except OSError:
            raise LinkError("Undersong has ended") from None

    def _line(self) -> str:
        try:
            line = self._reader.readline()
        except TimeoutError:
            raise LinkError("Undersong does not answer") from None
        except OSError:
            line = b""
        if not line.endswith(b"\n"):
            raise LinkError("Undersong has ended")
        return line.decode("utf-8")
