"""A stream of notes while the settings file is read again, against the same stream without.

Both streams run in one daemon, in turns: quiet, reloads, quiet, reloads, ... so that what else the
machine does meets both.

Run inside tests/own-world.sh: python -m tests.bench.bench_reload
"""

from __future__ import annotations

import sys
import tempfile
import threading
from pathlib import Path

from live.faces.check_stats import nearest_rank
from tests.jackworld import Player
from tests.running import KEYS_IN, THROUGH, Running

NOTES = 1000
STEP_S = 0.004
TURNS = 3
RELOAD_EVERY_S = 0.2
LIMIT = 1.2
TOP = '[play]\nkey = "D minor"\n[time]\nstart_on_first_note = false\n'
FILES = (
    TOP + "[lights]\ntonic = 9\n",
    TOP.replace("D minor", "D dorian") + '[[zone]]\nsnap = "nearest"\n',
    TOP + "[answer]\ngroove = 'trap'\n",
    TOP.replace("D minor", "G dorian"),
)
SHARED = (62, 64, 65, 67, 69, 72, 74)
"""Notes of every one of these keys, so that what leaves is what came in."""


def stream() -> list[tuple[float, bytes]]:
    events = []
    for index in range(NOTES):
        note, at_s = SHARED[index % len(SHARED)], index * STEP_S
        # No message comes twice within seconds: a machine that stands still makes no echo of it.
        events.append((at_s, bytes((0x90, note, 1 + index % 127))))
        events.append((at_s + STEP_S / 2, bytes((0x80, note, index % 128))))
    return events


def times_us(running: Running, pad: Player, *, reloads: bool) -> tuple[list[float], int]:
    """(times through in microseconds, how often the file was read again)."""
    pad.forget()
    ended, count = threading.Event(), 0

    def read_again() -> None:
        nonlocal count
        while not ended.wait(RELOAD_EVERY_S):
            running.config.write_text(FILES[count % len(FILES)], encoding="utf-8")
            running.tell("reload")
            count += 1

    reader = threading.Thread(target=read_again)
    if reloads:
        reader.start()
    try:
        pad.play(stream(), start_in_s=0.3)
        pad.wait_until_sent()
    finally:
        ended.set()
        if reloads:
            reader.join()
    pad.wait_for_quiet(0.5)
    sent, heard = pad.sent(), pad.heard()
    assert [one.data for one in sent] == [one.data for one in heard]
    return [(b.at_ns - a.at_ns) / 1000 for a, b in zip(sent, heard, strict=True)], count


def main() -> bool:
    """Print the figures; True if both ratios keep within the limit."""
    quiet: list[float] = []
    busy: list[float] = []
    count = 0
    with tempfile.TemporaryDirectory() as folder, Running(Path(folder), TOP) as running:
        with Player("bench", ins=("in",)) as pad:
            pad.connect(pad.port("out"), KEYS_IN)
            pad.connect(THROUGH, pad.port("in"))
            for _ in range(TURNS):
                quiet += times_us(running, pad, reloads=False)[0]
                more, read = times_us(running, pad, reloads=True)
                busy += more
                count += read
        lost = running.status()["lost"]
    quiet.sort()
    busy.sort()
    good = lost == 0
    for name, share in (("median", 0.5), ("p99", 0.99), ("p99.9", 0.999), ("latest", 1.0)):
        a, b = nearest_rank(busy, share), nearest_rank(quiet, share)
        limited = name in ("median", "p99")
        good &= not limited or a <= LIMIT * b
        limit = f" (<= {LIMIT})" if limited else ""
        print(f"{name}: {a:.0f} us with reloads, {b:.0f} us without, ratio {a / b:.3f}{limit}")
    print(f"  {len(busy)} messages each way, {count} reloads, none lost, order kept")
    return good


if __name__ == "__main__":
    sys.exit(not main())
