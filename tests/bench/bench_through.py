"""How long a note takes through the whole running daemon, against a bare forwarder beside it.

One player sends every message to both at once, on the same server, and hears both. The daemon has
its journal and composer running and answers calls meanwhile.

Run inside tests/own-world.sh: python -m tests.bench.bench_through
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from live.faces import check_forwarder as bare
from live.faces.check_stats import nearest_rank
from tests.jackworld import Heard, Player, ports
from tests.processes import wait_until
from tests.running import KEYS_IN, THROUGH, Running

NOTES = 4000
STEP_S = 0.0073  # no multiple of the period, so that every place in it is met
LIMIT = 1.2
SETTINGS = '[play]\nkey = "D minor"\nprogression = "i VI iv v"\n[time]\ntempo = 168.0\n'


def script(notes: int) -> list[tuple[float, bytes]]:
    """Notes of the scale, so that both paths carry the same bytes."""
    scale = (62, 64, 65, 67, 69, 70, 72)
    events = []
    for index in range(notes):
        at_s, note = index * STEP_S, scale[index % len(scale)]
        events += [(at_s, bytes((0x90, note, 90))), (at_s + STEP_S / 2, bytes((0x80, note, 64)))]
    return events


@contextmanager
def forwarder() -> Iterator[tuple[str, str]]:
    """A bare python-rtmidi forwarder; gives the full names of its ports."""
    command = [sys.executable, "-c", bare.PROGRAM]
    process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL)
    try:
        found: list[str] = []

        def both() -> bool:
            found[:] = [name for name in ports() if bare.CLIENT in name]
            return len(found) == 2

        wait_until(both, "the forwarder's ports", 10, 0.2)
        yield (
            next(name for name in found if name.endswith(bare.IN_PORT)),
            next(name for name in found if name.endswith(bare.OUT_PORT)),
        )
    finally:
        assert process.stdin is not None
        process.stdin.close()
        process.wait(5)


def times_us(sent: list[Heard], heard: list[Heard]) -> list[float]:
    """Times from sending to hearing, sorted, in microseconds; the order of messages is kept."""
    assert [one.data for one in sent] == [one.data for one in heard]
    return sorted((b.at_ns - a.at_ns) / 1000 for a, b in zip(sent, heard, strict=True))


def main() -> bool:
    """Measure and print; True if both ratios are within the limit."""
    with tempfile.TemporaryDirectory() as folder, Running(Path(folder), SETTINGS) as running:
        with forwarder() as (bare_in, bare_out), Player("bench", ins=("ours", "bare")) as pad:
            pad.connect(pad.port("out"), KEYS_IN)
            pad.connect(THROUGH, pad.port("ours"))
            pad.connect(pad.port("out"), bare_in)
            pad.connect(bare_out, pad.port("bare"))
            pad.play(script(NOTES), start_in_s=0.5)
            pad.wait_until_sent()
            pad.wait_for_quiet(0.5)
            sent = pad.sent()
            ours, theirs = (times_us(sent, pad.heard(port)) for port in ("ours", "bare"))
        late = running.status()["late_answers"]
    fine = True
    for name, share in (("median", 0.5), ("p99", 0.99)):
        a, b = nearest_rank(ours, share), nearest_rank(theirs, share)
        fine &= a <= LIMIT * b
        print(
            f"through {name}: {a:.0f} us, bare forwarder {b:.0f} us, ratio {a / b:.3f} (<= {LIMIT})"
        )
    print(f"  {len(sent)} messages, none lost, period 64 at 48 kHz, late answers {late}")
    return fine


if __name__ == "__main__":
    sys.exit(not main())
