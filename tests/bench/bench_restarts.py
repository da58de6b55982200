"""200 times the JACK server is killed and started again under a running daemon.

A server of its own, without -S. In every round a note is held, then the server is killed (signals
9 and 15 by turns) and started again at once, or in every fourth round only after it has been
missed. Meanwhile the daemon is asked for its status without a pause: the longest reply is the
longest time that anything hung. How soon the ports are back counts from the moment at which the
server answers again (baseline: how long that took the server itself). A crash is any process of
ours that ends in another way than by the engine's own decision to begin anew.

Run inside tests/own-world.sh: python -m tests.bench.bench_restarts [--slow] [--rounds N]
(--slow: the whole 200 rounds, about 12 minutes; else 20)
"""

from __future__ import annotations

import os
import signal
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

from live.daemon.link import LinkClient, LinkError
from live.faces.check_stats import nearest_rank
from tests.jackworld import JackServer, ports
from tests.processes import run
from tests.running import ANSWER, KEYS_IN, THROUGH, Running

ROUNDS, SLOW_ROUNDS = 20, 200
BACK_LIMIT_S = 2.0
HANG_LIMIT_S = 1.0
GROWTH_LIMIT = 1.05
"""Memory of the supervisor in the last ten rounds, to that of rounds 11 to 20."""
SETTINGS = '[play]\nkey = "D minor"\n[time]\nstart_on_first_note = false\n'
OURS = {KEYS_IN, THROUGH, ANSWER}


class Size(NamedTuple):
    """What a process uses: open descriptors, threads, resident KiB."""

    descriptors: int
    threads: int
    kib: int


class Round(NamedTuple):
    """Seconds: the server's start, our ports after it, the longest reply; sizes afterwards."""

    server_s: float
    back_s: float
    reply_s: float
    supervisor: Size
    engine: Size


def size_of(pid: int) -> Size:
    """Read from the system's process table (Linux)."""
    status = Path(f"/proc/{pid}/status").read_text()
    lines = dict(line.split(":", 1) for line in status.splitlines())
    threads, kib = (int(lines[name].split()[0]) for name in ("Threads", "VmRSS"))
    return Size(sum(1 for _ in Path(f"/proc/{pid}/fd").iterdir()), threads, kib)


def engine_of(running: Running) -> int | None:
    """Process id of the engine, if there is one."""
    command = ["pgrep", "-P", str(running.process.pid), "-f", "engine_process"]
    found = run(command).out.split()
    return int(found[0]) if found else None


class Watch:
    """Asks for the status again and again and keeps the longest reply."""

    def __init__(self, running: Running) -> None:
        self._client = LinkClient(running.link)
        self.longest_s = 0.0

    def outputs(self) -> list[str]:
        """States of the outputs."""
        began_s = time.monotonic()
        reply = self._client.tell("status")
        self.longest_s = max(self.longest_s, time.monotonic() - began_s)
        return [port["state"] for port in reply["outputs"]]

    def until(self, happened: Callable[[list[str]], bool], limit_s: float) -> float:
        """Seconds until the outputs are as wanted; an error after `limit_s`."""
        began_s = time.monotonic()
        while not happened(self.outputs()):
            if time.monotonic() - began_s > limit_s:
                raise AssertionError(f"still {self.outputs()} after {limit_s} s")
            time.sleep(0.01)
        return time.monotonic() - began_s

    def close(self) -> None:
        self._client.close()


def all_open(states: list[str]) -> bool:
    return len(states) == 2 and set(states) == {"open"}


def shown(server: JackServer) -> bool:
    """True if the server itself lists our ports."""
    return set(ports(server.name)) >= OURS


def play_round(number: int, running: Running, server: JackServer) -> Round:
    """Kill, start, wait for the ports, look at the sizes."""
    running.tell("note", "on", "D4")
    before = engine_of(running)
    watch = Watch(running)
    server.kill(signal.SIGTERM if number % 2 else signal.SIGKILL)
    if number % 4 == 0:
        watch.until(lambda states: not states, 15)
    began_s = time.monotonic()
    server.start()
    up_s = time.monotonic()

    def renewed(states: list[str]) -> bool:
        # What a daemon says of ports of a server that is gone is not believed.
        return all_open(states) and engine_of(running) != before and shown(server)

    watch.until(renewed, 30)
    back_s = time.monotonic() - up_s
    watch.close()
    if back_s > BACK_LIMIT_S:
        print(f"round {number}: back after {back_s:.2f} s (server's start {up_s - began_s:.2f} s)")
    assert running.process.running
    engine = engine_of(running)
    assert engine is not None
    sizes = size_of(running.process.pid), size_of(engine)
    return Round(up_s - began_s, back_s, watch.longest_s, *sizes)


def rounds(wanted: int) -> list[Round]:
    """Play them all; what goes wrong ends the run with what was measured so far."""
    rows: list[Round] = []
    server = JackServer("other-0", in_step=False)
    server.start()
    with tempfile.TemporaryDirectory() as folder:
        running = Running(Path(folder), SETTINGS, server.env, limit_s=3600)
        try:
            rows.extend(play_round(number, running, server) for number in range(wanted))
        except (AssertionError, LinkError, OSError) as error:
            print(f"round {len(rows)} failed: {error!r}\n{running.process.err[-2000:]}")
        finally:
            crashes = running.process.err.count("Traceback")
            running.close()
            server.close()
    print(f"{len(rows)} of {wanted} rounds; tracebacks told: {crashes}")
    return rows


def growth(rows: list[Round], field: Callable[[Round], int]) -> tuple[float, float]:
    """(median of rounds 11 to 20, median of the last ten)."""
    early = rows[10:20] or rows
    return tuple(statistics.median(map(field, some)) for some in (early, rows[-10:]))


def main() -> bool:
    """Measure and print; True if every limit held."""
    wanted = SLOW_ROUNDS if "--slow" in sys.argv else ROUNDS
    if "--rounds" in sys.argv:
        wanted = int(sys.argv[sys.argv.index("--rounds") + 1])
    began_s = time.monotonic()
    rows = rounds(wanted)
    if not rows:
        return False
    fine = len(rows) == wanted
    load = os.getloadavg()[0]
    for name, values, limit_s in (
        ("ports back after the server", [row.back_s for row in rows], BACK_LIMIT_S),
        ("longest reply of the daemon", [row.reply_s for row in rows], HANG_LIMIT_S),
        ("the server's own start (baseline)", [row.server_s for row in rows], None),
    ):
        ordered = sorted(values)
        told = "" if limit_s is None else f" (<= {limit_s})"
        middle, most = (nearest_rank(ordered, share) for share in (0.5, 0.99))
        print(f"{name}: median {middle:.3f} s, p99 {most:.3f} s, longest {ordered[-1]:.3f} s{told}")
        fine &= limit_s is None or ordered[-1] <= limit_s
    for name, field in (
        ("descriptors of the supervisor", lambda row: row.supervisor.descriptors),
        ("threads of the supervisor", lambda row: row.supervisor.threads),
        ("KiB of the supervisor", lambda row: row.supervisor.kib),
        ("descriptors of the engine", lambda row: row.engine.descriptors),
        ("threads of the engine", lambda row: row.engine.threads),
        ("KiB of the engine", lambda row: row.engine.kib),
    ):
        early, late = growth(rows, field)
        fine &= late <= early * (GROWTH_LIMIT if "KiB" in name else 1)
        print(f"{name}: {early:.0f} in rounds 11 to 20, {late:.0f} in the last ten")
    print(f"{time.monotonic() - began_s:.0f} s in all, load average {load:.1f}")
    return fine


if __name__ == "__main__":
    sys.exit(not main())
