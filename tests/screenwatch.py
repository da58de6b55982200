"""Watches a part of a window on the X server, and says when it changes. A process of its own.

    with ScreenWatch(window_id, (18, 12, 152, 118)) as watch:
        at_ns = watch.next_change(after_ns)   # CLOCK_MONOTONIC

The window is grabbed over and over; a change is stamped when the grab that shows it has ended.
"""

from __future__ import annotations

import subprocess
import sys
import threading
import time
from typing import Self

_WATCH = """
import sys, time
from PyQt6.QtGui import QGuiApplication
app = QGuiApplication(["watch"])
number, x, y, width, height = map(int, sys.argv[1:])
screen, last = app.primaryScreen(), None
while True:
    image = screen.grabWindow(number, x, y, width, height).toImage()
    if image != last:
        last = image
        print(time.monotonic_ns(), flush=True)
    time.sleep(0.001)
"""


class ScreenWatch:
    """Changes of a box (x, y, width, height in pixels) of the window with this X number."""

    def __init__(self, window: str, box: tuple[int, int, int, int]) -> None:
        self.changes_ns: list[int] = []
        self._process = subprocess.Popen(
            [sys.executable, "-c", _WATCH, window, *map(str, box)],
            stdout=subprocess.PIPE,
            text=True,
        )
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        assert self._process.stdout is not None
        for line in self._process.stdout:
            self.changes_ns.append(int(line))

    def next_change(self, after_ns: int, timeout_s: float = 20.0) -> int:
        """Stamp of the first change after a moment; fails the test if none comes."""
        end_s = time.monotonic() + timeout_s
        while time.monotonic() < end_s:
            found = [at_ns for at_ns in self.changes_ns if at_ns > after_ns]
            if found:
                return found[0]
            time.sleep(0.002)
        raise AssertionError(f"the screen did not change within {timeout_s:g} s")

    def __enter__(self) -> Self:
        self.next_change(0)
        return self

    def __exit__(self, *_error: object) -> None:
        self._process.kill()
        self._process.wait()
        self._reader.join(2)
        if self._process.stdout is not None:
            self._process.stdout.close()
