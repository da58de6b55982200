"""A process of ours: started, spoken to in frames, watched, ended."""

from __future__ import annotations

import contextlib
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from typing import Any, BinaryIO, cast

from live.daemon.wire import WireError, read_frame, write_frame


@contextlib.contextmanager
def deaf_to_interrupts() -> Iterator[None]:
    """A process started meanwhile does not hear Ctrl+C, from its very first moment.

    A terminal interrupts every process that runs in it, but only the supervisor is to answer.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)  # what is ignored is inherited
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, signal.SIG_DFL if before is None else before)


class Child:
    """A Python process started with `-m module`.

    Args:
        module: what to run.
        take: gets each frame that comes up, and None once when the process has ended; called on
            this child's own reader thread.
        arguments: more words for its command line.
    Thread: one owner; `take` runs elsewhere.
    """

    def __init__(
        self, module: str, take: Callable[[Child, Any], None], arguments: tuple[str, ...] = ()
    ) -> None:
        self.module = module
        self.heard_s = time.monotonic()
        """When a frame last came. Written by the reader thread only."""
        self._take = take
        with deaf_to_interrupts():
            self._process = subprocess.Popen(
                [sys.executable, "-m", module, *arguments],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
            )
        self._reader = threading.Thread(target=self._read, name=f"from {module}", daemon=True)
        self._reader.start()

    @property
    def pid(self) -> int:
        """The process's number."""
        return self._process.pid

    @property
    def status(self) -> int | None:
        """Its exit status, None while it runs."""
        return self._process.poll()

    @property
    def is_running(self) -> bool:
        """True until the process has ended."""
        return self._process.poll() is None

    def send(self, frame: object) -> bool:
        """Send a frame down; False if the process is gone."""
        stdin = self._process.stdin
        if stdin is None or stdin.closed:
            return False
        try:
            write_frame(cast("BinaryIO", stdin), frame)
        except OSError:
            return False
        return True

    def end(self, wait_s: float) -> None:
        """Close its input, give it time to end, then kill it. Safe to call twice."""
        stdin = self._process.stdin
        if stdin is not None:
            with contextlib.suppress(OSError):
                stdin.close()
        try:
            self._process.wait(wait_s)
        except subprocess.TimeoutExpired:
            self.kill()
        self._reader.join(1.0)

    def kill(self) -> None:
        """End it at once. Safe to call twice."""
        self._process.kill()
        self._process.wait()

    def _read(self) -> None:
        stdout = self._process.stdout
        while stdout is not None:
            try:
                frame = read_frame(cast("BinaryIO", stdout))
            except (OSError, WireError):
                frame = None
            if frame is None:
                break
            self.heard_s = time.monotonic()
            self._take(self, cast("tuple[Any, ...]", frame))
        self._process.wait()
        if stdout is not None:
            stdout.close()
        self._take(self, None)
