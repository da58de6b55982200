"""`undersong` and `undersong headless`: start the daemon, with or without the window."""

from __future__ import annotations

import argparse
import importlib.util
import os
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Final

from live.daemon import supervisor
from live.daemon.link import LinkClient, LinkError
from live.daemon.settings import load
from live.faces.output import Failed, aside
from live.faces.values import seconds

_LONGEST_RUN_S: Final = 365 * 24 * 3600.0
_RUNS_ALREADY: Final = (
    "Undersong runs already, with settings of its own: change them with 'undersong tell set NAME "
    "VALUE', or end it first with 'undersong tell quit'"
)


def run_headless(args: argparse.Namespace) -> int:
    """Run the daemon without a window until it is told to quit, or for a set time."""
    return _run(args.config, args.for_s, args.changes, window=False)


def run_plain(args: argparse.Namespace) -> int:
    """Open the window on the running daemon; start one first if there is none."""
    missing = why_no_window(os.environ)
    if daemon_runs():
        if args.plain_config or args.plain_for_s or args.plain_changes:
            raise Failed(_RUNS_ALREADY)
        if missing:
            aside(f"A daemon runs already, and {missing}.")
            return 1
        return subprocess.run([sys.executable, "-m", "live.faces.window"], check=False).returncode
    if missing:
        aside(f"Going on without a window: {missing}.")
    return _run(args.plain_config, args.plain_for_s, args.plain_changes, window=not missing)


def _run(config: str | None, for_s: str | None, changes: list[str], *, window: bool) -> int:
    length_s = None if for_s is None else seconds("for", for_s, 0.0, _LONGEST_RUN_S)
    path = None if config is None else Path(config)
    return supervisor.run(load(path, changes), length_s, window=window, config=path)


def daemon_runs() -> bool:
    """True if a daemon answers on the link."""
    try:
        LinkClient.connect().close()
    except LinkError:
        return False
    return True


def why_no_window(environment: Mapping[str, str]) -> str:
    """Why no window can open here, as the end of a sentence; empty if nothing stands against it."""
    if importlib.util.find_spec("PyQt6") is None:
        return "PyQt6 is not installed (it comes with 'undersong[window]')"
    shown = ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")
    if sys.platform.startswith("linux") and not any(environment.get(name) for name in shown):
        return "there is no display"
    return ""
