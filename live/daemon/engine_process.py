"""The engine as a process: `python -m live.daemon.engine_process`, started by the supervisor.

Threads: main runs the loop; one thread reads commands from standard input; one writes reports to
standard output. The first frame that comes in is (EngineConfig, PortPlan).
"""

from __future__ import annotations

import contextlib
import gc
import os
import signal
import sys
import threading
from queue import Empty, SimpleQueue
from typing import Any, BinaryIO, Final, cast

from live.clock.clock import MonotonicClock
from live.daemon.engine_loop import EngineLoop, Report
from live.daemon.port_plan import PortPlan
from live.daemon.rack import Rack
from live.daemon.wire import read_frame, write_frame
from live.notes.config import EngineConfig
from live.notes.record import Record
from live.ports.api import Driver

ALIVE_EVERY_S: Final = 0.1
SWITCH_INTERVAL_S: Final = 0.0005
"""How long another thread of this process may keep the loop waiting (Python's default is 5 ms)."""
MOST_RECORDS: Final = 256
NICENESS: Final = -11
"""Between other programs and the audio servers, which real-time desktops run from -11 down to -20
(own choice); a process that hangs at it does not stop the machine, as one with a real-time
priority could."""


def main() -> int:
    """Run until told to quit, or until the supervisor is gone."""
    commands, reports = sys.stdin.buffer, _own_stdout()
    first = cast("tuple[EngineConfig, PortPlan] | None", read_frame(commands))
    if first is None:
        return 0
    config, plan = first
    _go_first()
    queue: SimpleQueue[Report] = SimpleQueue()
    loop = EngineLoop(
        config,
        MonotonicClock(),
        lambda deliver: Rack(plan, lambda: _open_driver(plan), deliver),
        queue.put,
    )
    for number in (signal.SIGINT, getattr(signal, "SIGHUP", None)):
        if number is not None:
            signal.signal(number, signal.SIG_IGN)  # the supervisor tells us to quit
    signal.signal(signal.SIGTERM, lambda *_: loop.inbox.put(("quit",)))
    sys.setswitchinterval(SWITCH_INTERVAL_S)
    reader = threading.Thread(target=_read, args=(commands, loop), name="commands", daemon=True)
    writer = threading.Thread(target=_write, args=(reports, queue, loop), name="reports")
    reader.start()
    writer.start()
    gc.collect()
    gc.freeze()
    gc.disable()  # the loop collects when nobody plays
    loop.run()
    queue.put(("bye",))
    writer.join(2.0)
    if loop.service_died:
        os._exit(1)  # closing ports of a dead service takes seconds, or for ever
    return 0


def _go_first() -> None:
    """Run before other programs where the system lets us; our later threads do so too."""
    if hasattr(os, "setpriority"):
        with contextlib.suppress(OSError):
            os.setpriority(os.PRIO_PROCESS, 0, NICENESS)


def _own_stdout() -> BinaryIO:
    """The pipe to the supervisor; whatever a library prints goes to standard error instead."""
    pipe = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    return pipe


def _open_driver(plan: PortPlan) -> Driver:
    from live.ports.rt import open_driver

    return open_driver(plan.service, plan.client)


def _read(commands: BinaryIO, loop: EngineLoop) -> None:
    """Commands thread: hand frames to the loop; the end of the pipe means quit."""
    while True:
        frame = read_frame(commands)
        if frame is None:
            loop.inbox.put(("quit",))
            return
        loop.inbox.put(cast("tuple[Any, ...]", frame))


def _write(reports: BinaryIO, queue: SimpleQueue[Report], loop: EngineLoop) -> None:
    """Reports thread: records in batches, and a sign of life while the loop goes round."""
    records: list[tuple[Any, ...]] = []
    while True:
        try:
            report = queue.get(timeout=ALIVE_EVERY_S)
        except Empty:
            report = ("alive",)
            if not loop.is_well(MonotonicClock().now_ns()):
                continue  # the loop hangs: stay silent, so that the supervisor notices
        try:
            while report[0] == "records":
                records += [tuple(r) for r in report[1] if type(r) is Record]
                if queue.empty() or len(records) >= MOST_RECORDS:
                    break
                report = queue.get()
            if records:
                write_frame(reports, ("records", records))
                records = []
            if report[0] != "records":
                write_frame(reports, report)
        except (OSError, ValueError):
            loop.inbox.put(("quit",))  # the supervisor is gone: release what sounds and end
            return
        if report[0] == "bye":
            return


if __name__ == "__main__":
    sys.exit(main())
