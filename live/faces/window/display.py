"""Is there a display? Asked before Qt is, because Qt ends the process when there is none."""

from __future__ import annotations

import ctypes
import os
import re
import socket
import sys
from collections.abc import Mapping
from pathlib import Path

_NO_DISPLAY_PLATFORMS = ("offscreen", "minimal", "vnc", "linuxfb", "eglfs")
_X_DISPLAY = re.compile(r"(?P<host>[^:]*):(?P<number>\d+)(\.\d+)?")
_WAIT_S = 2.0


def missing(environ: Mapping[str, str] = os.environ, platform: str = sys.platform) -> str:
    """Why no window can be opened, one sentence; "" if one can as far as can be told.

    Args:
        environ: the environment.
        platform: as `sys.platform`.
    """
    if platform in ("win32", "darwin"):
        return ""
    chosen = environ.get("QT_QPA_PLATFORM", "").partition(":")[0]
    if chosen in _NO_DISPLAY_PLATFORMS:
        return ""
    wayland, x11 = environ.get("WAYLAND_DISPLAY", ""), environ.get("DISPLAY", "")
    if not wayland and not x11:
        return "no display: neither DISPLAY nor WAYLAND_DISPLAY is set; the daemon works without"
    if wayland and chosen != "xcb" and _wayland_answers(wayland, environ):
        return ""
    if not x11:
        return f"no display: the one at WAYLAND_DISPLAY={wayland} does not answer"
    if not _x11_answers(x11):
        return f"no display: the one at DISPLAY={x11} does not answer"
    return (
        "" if _loads("libxcb-cursor.so.0") else "no window: the library libxcb-cursor0 is missing"
    )


def _wayland_answers(name: str, environ: Mapping[str, str]) -> bool:
    return _reaches(Path(environ.get("XDG_RUNTIME_DIR", "/run"), name))


def _x11_answers(display: str) -> bool:
    """True if the X server takes a connection; displays of other hosts are tried over TCP."""
    match = _X_DISPLAY.fullmatch(display)
    if match is None:
        return False
    number = int(match["number"])
    if match["host"] in ("", "unix"):
        name = f"/tmp/.X11-unix/X{number}"  # noqa: S108 - where X servers listen
        return _reaches(Path(name)) or _reaches(Path("\0" + name))
    try:
        with socket.create_connection((match["host"], 6000 + number), _WAIT_S):
            return True
    except OSError:
        return False


def _reaches(path: Path) -> bool:
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as probe:
        probe.settimeout(_WAIT_S)
        try:
            probe.connect(str(path))
        except OSError:
            return False
    return True


def _loads(library: str) -> bool:
    """True if the system finds the library, which Qt needs on X from version 6.5 on."""
    try:
        ctypes.CDLL(library)
    except OSError:
        return False
    return True
