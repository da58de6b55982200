"""How late scheduled answers are at their receiver, against the ideal; alone and beside busy work.

The daemon plays answers of its own composing for a minute. The ideal moments are those of its
journal, from the transport's anchor; the moments of hearing are those of a player on the same
server. The baseline is the shortest program that sends notes at given moments, heard by the same
player in the same run: python-rtmidi, a sleep and a send. Then all of it once more with two
processes beside it that do nothing but use up a processor each.

Run inside tests/own-world.sh: python -m tests.bench.bench_lateness [--seconds N]
(two runs of N seconds, 60 unless told otherwise, and some)
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

from live.faces.check_stats import nearest_rank
from live.faces.check_timing import Heard, lateness
from live.takes.journal import list_takes, read_take
from tests.bench.loaded import load_average
from tests.jackworld import Player, wait_for_port
from tests.running import ANSWER, KEYS_IN, Running

SECONDS = 60
BUSY = 2
PERIOD_US = 64 / 48_000 * 1e6
MEDIAN_US, P99_US = PERIOD_US + 300, PERIOD_US + 2000
TEMPO = 172.0
SETTINGS = f'[play]\nkey = "D minor"\nprogression = "i VI iv v"\n[time]\ntempo = {TEMPO}\n'
SETTINGS += "[form]\ncall_bars = 1\nanswer_bars = 4\n[taste]\ndensity = 1.0\n"

SCHEDULER = """
import sys, time, rtmidi
out = rtmidi.MidiOut(rtmidi.API_UNIX_JACK, "bare scheduler")
out.open_virtual_port("out")
print("ready", flush=True)
sys.stdin.readline()
anchor_ns, step_ns = time.monotonic_ns() + 200_000_000, 43_700_000
for number in range(int(sys.argv[1])):
    due_ns = anchor_ns + number * step_ns
    time.sleep(max(due_ns - time.monotonic_ns(), 0) / 1e9)
    data = bytes((0x90, 1 + number % 126, 1 + number // 126 % 127))
    out.send_message(data)
    print(due_ns, data.hex())
time.sleep(0.2)
out.delete()
"""
"""Prints each moment and message. The step is no multiple of a period."""


@contextmanager
def busy(count: int) -> Iterator[None]:
    """So many processes that never rest."""
    command = [sys.executable, "-c", "while True: pass"]
    with ExitStack() as stack:
        for _ in range(count):
            one = stack.enter_context(subprocess.Popen(command))
            stack.callback(one.kill)
        yield


def bare_schedule(pad: Player, seconds: int) -> subprocess.Popen[str]:
    """Start the baseline; it waits for a line."""
    command = [sys.executable, "-c", SCHEDULER, str(seconds * 22)]
    pipe = subprocess.PIPE
    process = subprocess.Popen(command, stdin=pipe, stdout=pipe, text=True)
    assert process.stdout is not None
    assert process.stdout.readline() == "ready\n"
    wait_for_port("bare scheduler:out")
    pad.connect("bare scheduler:out", pad.port("bare"))
    return process


def on_time(due: list[Heard], heard: list[Heard], port: str) -> list[float]:
    """Sorted lateness in us; every note that was due must have come."""
    found = lateness(due, heard)
    assert found.lost == 0, f"{found.lost} of {len(due)} did not come on '{port}'"
    return sorted(off / 1000 for off in found.off_ns)


def measure(seconds: int) -> tuple[list[float], list[float]]:
    """Sorted lateness in us: answers of the daemon, notes of the bare scheduler."""
    with tempfile.TemporaryDirectory() as folder:
        with (
            Running(Path(folder), SETTINGS, limit_s=seconds + 120) as running,
            Player("bench", ins=("answer", "bare")) as pad,
        ):
            pad.connect(pad.port("out"), KEYS_IN)
            pad.connect(ANSWER, pad.port("answer"))
            scheduler = bare_schedule(pad, seconds)
            beat_s = 60 / TEMPO
            pitches = (62, 65, 69, 67)
            script = []
            for beat in range(int(seconds / beat_s)):
                pitch = pitches[beat % 4]
                script.append((beat * beat_s, bytes((0x90, pitch, 80))))
                script.append(((beat + 0.5) * beat_s, bytes((0x80, pitch, 64))))
            pad.play(script)
            told, _ = scheduler.communicate("go\n", timeout=seconds * 3 + 60)
            pad.wait_until_sent(seconds * 3 + 60)
            running.tell("stop")
            pad.wait_for_quiet()
            heard = {port: [one[::2] for one in pad.heard(port)] for port in ("answer", "bare")}
        takes = list_takes(running.journal)
        records = read_take(running.journal, takes[-1].id).records
        sent = [(r.at_ns, r.data) for r in records if (r.kind, r.port) == ("out", "answer")]
        bare = [line.split() for line in told.splitlines()]
        return (
            on_time(sent, heard["answer"], "answer"),
            on_time([(int(at), bytes.fromhex(data)) for at, data in bare], heard["bare"], "bare"),
        )


def main() -> bool:
    """Measure alone and beside busy work; only the first is judged."""
    arguments, seconds = sys.argv, SECONDS
    if "--seconds" in arguments:
        seconds = int(arguments[arguments.index("--seconds") + 1])
    fine = True
    for beside in (0, BUSY):
        with busy(beside):
            ours, bare = measure(seconds)
        told = f"beside {beside} busy processes" if beside else "alone"
        for name, share, limit_us in (("median", 0.5, MEDIAN_US), ("p99", 0.99, P99_US)):
            late_us, bare_us = nearest_rank(ours, share), nearest_rank(bare, share)
            fine &= bool(beside) or late_us <= limit_us
            print(
                f"answers {told}, late by {name}: {late_us:.0f} us (<= {limit_us:.0f}), bare "
                f"scheduler {bare_us:.0f} us, ratio {late_us / bare_us:.2f}"
            )
        print(f"  {len(ours)} answer messages, {len(bare)} bare ones; {load_average()}")
    return fine


if __name__ == "__main__":
    sys.exit(not main())
