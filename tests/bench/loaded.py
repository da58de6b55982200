"""A daemon with everything on, for the benches: window, journal, sound, and a composer at work.

The window and the sound need a screen and an audio device: in tests/own-world.sh --screen both are
there (JACK's dummy device). What could not be switched on is told in `off`.
"""

from __future__ import annotations

import os
import sys
import threading
from array import array
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from live.daemon.link import LinkError
from tests.processes import Started
from tests.running import Running

AUDIO = "system, JACK Audio Connection Kit"
MORE_EVERY_S = 0.5
TIMED = Path(__file__).resolve().parent / "timed_engine"


def load_average() -> str:
    """Processes that wanted to run in the last minute, to be named beside each figure."""
    return f"load average {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores"


class Loaded:
    """What runs: the daemon, and the names of what could not be switched on."""

    def __init__(self, running: Running, times: Path, off: list[str]) -> None:
        self.running = running
        self.off = off
        self._times = times

    def own_share_us(self) -> list[float]:
        """Sorted microseconds from stamp to send of every packet; after the daemon's end."""
        times = array("q")
        times.frombytes(self._times.read_bytes())
        return sorted(one / 1000 for one in times)


@contextmanager
def loaded(folder: Path, settings: str) -> Iterator[Loaded]:
    """Run it all; ends when the block does."""
    times = folder / "times"
    running = Running.__new__(Running)
    running.limit_s, running.start_limit_s = 1800, 90
    sound = f'[sound]\non = true\ndevice = "{AUDIO}"\n'
    running.prepare(folder, settings + sound, None)
    path = os.pathsep.join(filter(None, (str(TIMED), os.environ.get("PYTHONPATH", ""))))
    running.env |= {"UNDERSONG_BENCH_TIMES": str(times), "PYTHONPATH": path}
    running.start()
    off, window = [], None
    done = threading.Event()
    asking = threading.Thread(target=_keep_composing, args=(running, done), daemon=True)
    try:
        if "DISPLAY" in os.environ:
            command = [sys.executable, "-m", "live.faces.window", "--link", str(running.link)]
            shown = {**running.env, "DISPLAY": os.environ["DISPLAY"]}
            window = Started(command, limit_s=1800, env=shown)
        else:
            off.append("window")
        try:
            running.process.wait_for_text("sound:", 30)
        except AssertionError:
            off.append("sound")
        asking.start()
        yield Loaded(running, times, off)
        if window is not None and not window.running:
            off.append(f"window ({window.err.strip()[-200:]})")
    finally:
        done.set()
        if window is not None:
            window.close()
        running.close()


def _keep_composing(running: Running, done: threading.Event) -> None:
    """Ask for other answers again and again: refused while there is none, a search otherwise."""
    while not done.wait(MORE_EVERY_S):
        with suppress(AssertionError, LinkError):
            running.tell("more")
