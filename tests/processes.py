"""Processes that a test starts and that cannot outlive it, however badly they hang.

A thread that holds Python's lock cannot be stopped from inside, so the time-outs here end in
SIGKILL for the whole process group, from outside.
"""

from __future__ import annotations

import os
import signal
import subprocess
import tempfile
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

OUTSIDE_LIMIT_S = 120.0


@dataclass(frozen=True)
class Ended:
    """How a command ended: exit status, standard output and standard error as text."""

    status: int
    out: str
    err: str


class Started:
    """A command that runs in a process group of its own.

    Args:
        command: the program and its arguments.
        limit_s: killed after so many seconds, whatever it does.
        env: added to our own environment; a value of None takes a name away.
    """

    def __init__(
        self,
        command: Sequence[str],
        *,
        limit_s: float = OUTSIDE_LIMIT_S,
        env: Mapping[str, str | None] | None = None,
        cwd: str | None = None,
    ) -> None:
        self.command = list(command)
        self.killed_at_limit = False
        self._out = tempfile.TemporaryFile("w+b")  # noqa: SIM115  closed in `close`
        self._err = tempfile.TemporaryFile("w+b")  # noqa: SIM115
        self.process = subprocess.Popen(
            self.command,
            stdin=subprocess.DEVNULL,
            stdout=self._out,
            stderr=self._err,
            env=_environment(env),
            cwd=cwd,
            start_new_session=True,
        )
        self._timer = threading.Timer(limit_s, self._kill_at_limit)
        self._timer.daemon = True
        self._timer.start()

    @property
    def pid(self) -> int:
        """Process id, which is also the id of its group."""
        return self.process.pid

    @property
    def running(self) -> bool:
        """True until it has ended."""
        return self.process.poll() is None

    @property
    def out(self) -> str:
        """Standard output so far."""
        return _read(self._out.fileno())

    @property
    def err(self) -> str:
        """Standard error so far."""
        return _read(self._err.fileno())

    def send_signal(self, number: int) -> None:
        """Send a signal to the process itself, not to its children."""
        self.process.send_signal(number)

    def wait(self, timeout_s: float) -> Ended:
        """Wait for the end; kills and fails the test if it takes longer than `timeout_s`."""
        try:
            status = self.process.wait(timeout_s)
        except subprocess.TimeoutExpired:
            self.kill()
            raise AssertionError(self.story(f"did not end within {timeout_s:g} s")) from None
        if self.killed_at_limit:
            raise AssertionError(self.story("was killed at its limit"))
        return Ended(status, self.out, self.err)

    def wait_for_text(self, text: str, timeout_s: float = 10.0) -> None:
        """Wait until standard output or standard error holds `text`; fails the test otherwise."""
        wait_until(
            lambda: text in self.out or text in self.err or not self.running,
            f"{text!r} from {self.command}",
            timeout_s,
        )
        if text not in self.out and text not in self.err:
            raise AssertionError(self.story(f"ended without saying {text!r}"))

    def kill(self) -> None:
        """SIGKILL to the whole group."""
        try:
            os.killpg(self.process.pid, signal.SIGKILL)
        except ProcessLookupError:
            return
        self.process.wait(10)

    def close(self) -> None:
        """Kill what still runs and give up the files."""
        self._timer.cancel()
        self.kill()
        self._out.close()
        self._err.close()

    def _kill_at_limit(self) -> None:
        if self.running:
            self.killed_at_limit = True
            self.kill()

    def story(self, what: str) -> str:
        """A sentence about the command, with all that it has said."""
        return f"{self.command} {what}\n--- out\n{self.out}\n--- err\n{self.err}"


def run(
    command: Sequence[str],
    *,
    timeout_s: float = 30.0,
    env: Mapping[str, str | None] | None = None,
    cwd: str | None = None,
) -> Ended:
    """Run a command to its end; SIGKILL and a failed test after `timeout_s`."""
    started = Started(command, limit_s=timeout_s + 5, env=env, cwd=cwd)
    try:
        return started.wait(timeout_s)
    finally:
        started.close()


def wait_until(
    happened: Callable[[], object], what: str, timeout_s: float = 30.0, step_s: float = 0.005
) -> None:
    """Wait for something another process does; fails the test after `timeout_s`.

    Long waits cost nothing where all is well, and a busy machine is no fault of ours.
    """
    end_s = time.monotonic() + timeout_s
    while not happened():
        if time.monotonic() > end_s:
            raise AssertionError(f"waited {timeout_s:g} s in vain for {what}")
        time.sleep(step_s)


def _environment(changes: Mapping[str, str | None] | None) -> dict[str, str]:
    merged: dict[str, str | None] = {**os.environ, **(changes or {})}
    return {name: value for name, value in merged.items() if value is not None}


def _read(descriptor: int) -> str:
    """A file's text from the start, without moving the place where the child writes."""
    size = os.fstat(descriptor).st_size
    return os.pread(descriptor, size, 0).decode(errors="replace")
