"""How soon the first note passes after `undersong headless`, and what memory it takes.

The baseline for time is a bare Python that imports python-rtmidi and opens one port; for memory,
the same process. JACK maps its server's shared memory (about 100 MB) into every client; that is
not ours, so memory is what is resident without shared maps, and the whole figure is printed too.

Run inside tests/own-world.sh: python -m tests.bench.bench_start
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.jackworld import Player
from tests.processes import run
from tests.running import Running

ROUNDS = 5
START_LIMIT_S = 0.7
MEMORY_LIMIT_MB = 60.0
SETTINGS = """
[play]
key = "D minor"
[time]
start_on_first_note = false
[ports]
keyboards = ["starter:out"]
through = "starter:in"
"""
HEAVY = ("numpy", "music21", "PyQt6", "sounddevice", "mido")
BARE = (
    "import rtmidi, sys; m = rtmidi.MidiIn(rtmidi.API_UNIX_JACK, 'bare');"
    "m.open_virtual_port('in'); print('open', flush=True); sys.stdin.read(); m.close_port();"
    "m.delete()"
)


def resident_mb(pid: int) -> tuple[float, float]:
    """(resident without shared maps, all that is resident) of a process."""
    status = dict(
        line.split(":", 1) for line in Path(f"/proc/{pid}/status").read_text().splitlines()
    )
    all_mb = int(status["VmRSS"].split()[0]) / 1024
    return all_mb - int(status["RssShmem"].split()[0]) / 1024, all_mb


def bare_round() -> tuple[float, float]:
    """(seconds, MB) until a bare port is open."""
    began_s = time.monotonic()
    process = subprocess.Popen(
        [sys.executable, "-c", BARE], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    )
    assert process.stdout is not None
    process.stdout.readline()
    took_s = time.monotonic() - began_s
    memory_mb = resident_mb(process.pid)[0]
    process.communicate()
    return took_s, memory_mb


def our_round(pad: Player, folder: Path) -> tuple[float, dict[str, tuple[float, float]], list[str]]:
    """(seconds to the first note through, memory by process, heavy libraries found in them).

    The settings name the player's ports, so the daemon connects itself; the player repeats a note
    every 5 ms from before the start on.
    """
    before = len(pad.heard())
    notes = [(index * 0.005, bytes((0x90 + index % 2 * -16, 62, 80))) for index in range(400)]
    began_ns = pad.play(notes)
    with Running(folder, SETTINGS) as running:
        first = pad.wait_for(before + 1)[before]
        took_s = (first.at_ns - began_ns) / 1e9
        engine = int(run(["pgrep", "-P", str(running.process.pid), "-f", "engine_process"]).out)
        pids = {"supervisor": running.process.pid, "engine": engine}
        memory = {name: resident_mb(pid) for name, pid in pids.items()}
        maps = [Path(f"/proc/{pid}/maps").read_text() for pid in pids.values()]
        heavy = [name for name in HEAVY if any(f"/{name}" in text for text in maps)]
        pad.wait_until_sent()
    return took_s, memory, heavy


def main() -> bool:
    """Measure and print; True if every figure is within its limit."""
    bare = [bare_round() for _ in range(ROUNDS)]
    ours = []
    with Player("starter") as pad:
        for _ in range(ROUNDS):
            with tempfile.TemporaryDirectory() as folder:
                ours.append(our_round(pad, Path(folder)))
    start_s = statistics.median(took for took, _, _ in ours)
    bare_s = statistics.median(took for took, _ in bare)
    bare_mb = statistics.median(mb for _, mb in bare)
    memory = ours[-1][1]
    total_mb = sum(own for own, _ in memory.values())
    heavy = sorted({name for _, _, found in ours for name in found})
    print(
        f"start to first note through: {start_s:.2f} s (<= {START_LIMIT_S}), a bare port opens in "
        f"{bare_s:.2f} s, ratio {start_s / bare_s:.1f}"
    )
    parts = ", ".join(f"{name} {own:.0f}" for name, (own, _) in memory.items())
    whole = ", ".join(f"{name} {every:.0f}" for name, (_, every) in memory.items())
    print(
        f"memory: {total_mb:.0f} MB ({parts}; <= {MEMORY_LIMIT_MB:.0f}), a bare client "
        f"{bare_mb:.0f} MB, ratio {total_mb / bare_mb:.1f}; "
        f"with the server's shared memory: {whole}"
    )
    print(f"heavy libraries in them: {', '.join(heavy) or 'none'}")
    return start_s <= START_LIMIT_S and total_mb <= MEMORY_LIMIT_MB and not heavy


if __name__ == "__main__":
    sys.exit(not main())
