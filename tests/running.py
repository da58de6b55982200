"""A whole Undersong for tests: started as a user would, in folders and on a link of its own."""

from __future__ import annotations

import contextlib
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any, Self

from live.daemon.link import LinkClient, LinkError
from tests.processes import Started, wait_until

KEYS_IN = "undersong keys in:keys in"
CLOCK_IN = "undersong clock in:clock in"
THROUGH = "undersong through:through"
ANSWER = "undersong answer:answer"
CLOCK_OUT = "undersong clock out:clock out"
LIGHTS = "undersong lights:lights"


class Running:
    """`undersong headless` with settings of its own.

    Args:
        folder: an empty folder for settings, journal and link.
        settings: TOML text.
        server: environment that names a JACK server, {} for the world's own.
        limit_s: killed after so many seconds.
    """

    start_limit_s = 60.0
    """On a busy machine: a supervisor waits 20 s for its first engine, 40 s for the second."""

    def __init__(
        self,
        folder: Path,
        settings: str = "",
        server: dict[str, str] | None = None,
        limit_s: float = 110,
    ) -> None:
        self.limit_s = limit_s
        self.prepare(folder, settings, server)
        try:
            self.process: Started = self.start()
        except BaseException:
            self.close()  # else it would run on, in the way of the next
            raise

    def prepare(self, folder: Path, settings: str, server: dict[str, str] | None) -> None:
        """Lay out the folder without starting anything."""
        self.folder = folder
        self.config = folder / "undersong.toml"
        self.config.write_text(settings, encoding="utf-8")
        self.link = folder / "link"
        self.journal = folder / "data" / "undersong" / "journal.sqlite"
        self.env: dict[str, str | None] = {
            "UNDERSONG_LINK": str(self.link),
            "XDG_DATA_HOME": str(folder / "data"),
            "XDG_CONFIG_HOME": str(folder / "config"),
            **(server or {}),
        }

    def start(self) -> Started:
        """Start the daemon and wait until it answers and its ports are there."""
        command = [sys.executable, "-m", "live", "headless", "--config", str(self.config)]
        self.process = Started(command, limit_s=self.limit_s, env=self.env)
        try:
            wait_until(self._ports_are_open, f"open ports of {command}", self.start_limit_s, 0.1)
        except AssertionError as error:
            told = self.process.story(str(error))
            self.close()
            raise AssertionError(told) from None
        return self.process

    def answers(self) -> bool:
        """True if it answers on its link."""
        try:
            return bool(self.status())
        except LinkError:
            return False

    def _ports_are_open(self) -> bool:
        try:
            states = [port["state"] for port in self.status()["outputs"]]
            return len(states) > 1 and set(states) == {"open"}
        except LinkError:
            return False

    def command(self, *words: str) -> list[str]:
        """A command line of ours."""
        return [sys.executable, "-m", "live", *words]

    def tell(self, command: str, *args: str) -> dict[str, Any]:
        """Tell it something that must succeed."""
        with LinkClient(self.link) as client:
            reply = client.tell(command, *args)
        assert reply["ok"], reply
        return reply

    def status(self) -> dict[str, Any]:
        """What `tell status` says."""
        return self.tell("status")

    def wait_for(self, name: str, value: object, timeout_s: float = 30.0) -> None:
        """Wait until a field of the status has a value."""
        wait_until(lambda: self.status()[name] == value, f"{name} = {value!r}", timeout_s, 0.02)

    def close(self) -> None:
        """End it: politely at first, for a JACK client that is killed holds the server up."""
        if self.process.running:
            self.process.send_signal(signal.SIGTERM)
            with contextlib.suppress(subprocess.TimeoutExpired):
                self.process.process.wait(8)
        self.process.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        self.close()
