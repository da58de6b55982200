"""The supervisor's processes: engine, composer, sound and window, started and started again."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

from live.daemon.child import Child, deaf_to_interrupts
from live.daemon.labels import Labels, read_labels
from live.daemon.port_plan import port_plan
from live.daemon.settings import Settings, engine_config
from live.notes.config import EngineConfig

SILENT_AFTER_S: Final = 1.0
"""An engine that gives no sign of life for so long hangs, and is replaced."""
START_WITHIN_S: Final = 20.0
"""How long a new engine may take to open its ports; twice as long after one that never spoke. To
kill one that is only slow makes a JACK server stand still, and everybody slower."""
MOST_PATIENCE: Final = 4
"""So many times as long at most: a machine that is this busy is waited for, not restarted."""
QUICK_END_S: Final = 2.0
PAUSE_S: Final = 1.0
"""A process that ended so quickly after its start is started again only after this pause."""

Post = Callable[[tuple[Any, ...]], None]


class Worker:
    """One child that is kept alive.

    Args:
        name: under which its frames are posted: (name, child, frame).
        start: makes the child.
        always: False = it may end with status 0, and then stays away.
    Thread: the supervisor's main.
    """

    def __init__(self, name: str, start: Callable[[], Child], *, always: bool = True) -> None:
        self.name = name
        self._always = always
        self._retired = False
        self.restarts = 0
        self._start = start
        self._started_s = time.monotonic()
        self._not_before_s = 0.0
        self.has_spoken = False
        self._patience = 1
        self.child: Child | None = start()

    def send(self, frame: object) -> bool:
        """Send a frame; False if the process is not there."""
        return self.child is not None and self.child.send(frame)

    def ended(self, child: Child) -> bool:
        """Its process has ended. True if it was the present one; it comes back with `revive`."""
        if child is not self.child:
            return False
        if not self._always and child.status == 0:
            self._retired = True  # it said why and left of its own accord
        self.child = None
        now_s = time.monotonic()
        quick = now_s - self._started_s < QUICK_END_S
        self._not_before_s = now_s + PAUSE_S if quick else now_s
        return True

    def revive(self) -> bool:
        """Start it again if it has ended and its pause is over. True if it was started."""
        waits = self._retired or time.monotonic() < self._not_before_s
        if self.child is not None or waits:
            return False
        self.restarts += 1
        self._patience = 1 if self.has_spoken else min(2 * self._patience, MOST_PATIENCE)
        self.has_spoken = False
        self._started_s = time.monotonic()
        self.child = self._start()
        return True

    def hangs(self, grace_s: float) -> bool:
        """True if it has been silent for too long; `grace_s` forgives a pause of our own."""
        if self.child is None:
            return False
        limit_s = SILENT_AFTER_S if self.has_spoken else START_WITHIN_S * self._patience
        return time.monotonic() - self.child.heard_s > limit_s + grace_s


class Staff:
    """All the workers.

    Args:
        settings: gives the current settings when a process is started.
        config: gives what an engine is started with, for the labels of its ports.
        post: takes (name, child, frame) on the workers' reader threads.
    Thread: the supervisor's main.
    """

    def __init__(
        self, settings: Callable[[], Settings], config: Callable[[Labels], EngineConfig], post: Post
    ) -> None:
        self._settings = settings
        self._config = config
        self._post = post
        self.labels = read_labels(settings().values)
        """The labels of the ports that the engine has: others apply when it is started again."""
        self.engine = Worker("engine", self._start_engine)
        self.composer = Worker("composer", self._start_composer)
        self.sound: Worker | None = None
        if settings()["sound.on"]:
            self.sound = Worker("sound", self._start_sound, always=False)
        self._window: subprocess.Popen[bytes] | None = None

    def check(self, settings: Settings) -> None:
        """Raise FieldError if zones or routes need ports that the engine has not."""
        engine_config(settings, self.labels)

    def open_window(self, link: Path) -> None:
        """Start the window; it ends by itself when the daemon does."""
        command = [sys.executable, "-m", "live.faces.window", "--link", str(link)]
        with deaf_to_interrupts():
            self._window = subprocess.Popen(command, stdin=subprocess.DEVNULL)

    def window_ended(self) -> bool:
        """True once, when the window that we started has closed."""
        if self._window is None or self._window.poll() is None:
            return False
        self._window = None
        return True

    def revive(self) -> list[str]:
        """Start again what has ended. Returns: the names of those started."""
        return [worker.name for worker in self._workers() if worker.revive()]

    def worker(self, name: str) -> Worker | None:
        """The worker of a name."""
        return next((worker for worker in self._workers() if worker.name == name), None)

    def end(self) -> None:
        """End every process: the engine first, which releases what sounds."""
        self.engine.send(("quit",))
        for worker, wait_s in ((self.engine, 5.0), (self.composer, 1.0), (self.sound, 1.0)):
            if worker is not None and worker.child is not None:
                worker.child.end(wait_s)
        if self._window is not None:
            self._window.terminate()
            self._window.wait()

    def _workers(self) -> list[Worker]:
        return [w for w in (self.engine, self.composer, self.sound) if w is not None]

    def _take(self, name: str) -> Callable[[Child, Any], None]:
        return lambda child, frame: self._post((name, child, frame))

    def _start_engine(self) -> Child:
        child = Child("live.daemon.engine_process", self._take("engine"))
        settings = self._settings()
        self.labels = read_labels(settings.values)
        child.send((self._config(self.labels), port_plan(settings)))
        return child

    def _start_composer(self) -> Child:
        return Child("live.daemon.composer_process", self._take("composer"))

    def _start_sound(self) -> Child:
        settings = self._settings()
        arguments = ["--level", str(settings["sound.level_db"])]
        if settings["sound.device"]:
            arguments += ["--device", settings["sound.device"]]
        return Child("live.daemon.sound_process", self._take("sound"), tuple(arguments))
