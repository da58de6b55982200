"""Where the daemon can be reached: a local socket, never the network.

Where the system has Unix sockets the address is a socket file that only the user can open.
Elsewhere it is a file with a port on the loopback address and a token that a face must show.
"""

from __future__ import annotations

import os
import secrets
import socket
import tempfile
from pathlib import Path
from typing import Final

ENVIRONMENT_NAME: Final = "UNDERSONG_LINK"
"""Set to a path, it names the link of a second daemon, or of a test's."""

HAS_UNIX_SOCKETS: Final = hasattr(socket, "AF_UNIX")


class LinkError(RuntimeError):
    """The daemon cannot be reached, or has gone; the text is one sentence for people."""


def link_path() -> Path:
    """Path of the socket (or token) file of the user's daemon."""
    named = os.environ.get(ENVIRONMENT_NAME)
    if named:
        return Path(named)
    runtime = Path(os.environ.get("XDG_RUNTIME_DIR", ""))
    if runtime.is_absolute() and runtime.is_dir():
        return runtime / "undersong" / "link"
    user = os.getuid() if hasattr(os, "getuid") else os.environ.get("USERNAME", "user")
    return Path(tempfile.gettempdir()) / f"undersong-{user}" / "link"


def connect(path: Path, timeout_s: float, *, unix: bool = HAS_UNIX_SOCKETS) -> socket.socket:
    """A connected socket; raises LinkError when no daemon listens there."""
    try:
        return _unix(path, timeout_s) if unix else _loopback(path, timeout_s)
    except (OSError, ValueError):
        start = "start one: undersong headless"
        raise LinkError(f"no Undersong is running here (no answer at {path}); {start}") from None


def _unix(path: Path, timeout_s: float) -> socket.socket:
    sock = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    try:
        sock.settimeout(timeout_s)
        sock.connect(str(path))
    except OSError:
        sock.close()
        raise
    return sock


def _loopback(path: Path, timeout_s: float) -> socket.socket:
    port, token = path.read_text(encoding="ascii").split()
    sock = socket.create_connection(("127.0.0.1", int(port)), timeout_s)
    sock.sendall(token.encode("ascii") + b"\n")
    return sock


def listen(path: Path, *, unix: bool = HAS_UNIX_SOCKETS) -> tuple[socket.socket, str]:
    """A listening socket and the token a face must send first ("" = none).

    Raises: LinkError if another daemon listens there, or the folder cannot be used.
    """
    try:
        connect(path, 0.5, unix=unix).close()
    except LinkError:
        pass
    else:
        raise LinkError(f"an Undersong is already running here (it answers at {path})")
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        if hasattr(os, "getuid") and path.parent.stat().st_uid != os.getuid():
            raise LinkError(f"the link's folder {path.parent} belongs to somebody else")
        path.unlink(missing_ok=True)  # left over from a daemon that was killed
        if unix:
            sock = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
            sock.bind(str(path))
            path.chmod(0o600)
            sock.listen()
            return sock, ""
        sock = socket.create_server(("127.0.0.1", 0))
        token = secrets.token_hex(16)
        path.touch(mode=0o600)
        path.write_text(f"{sock.getsockname()[1]} {token}\n", encoding="ascii")
    except OSError as error:
        raise LinkError(f"the link at {path} cannot be opened: {error.strerror}") from None
    return sock, token
