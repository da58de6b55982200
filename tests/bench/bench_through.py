"""How long a note takes through the whole running daemon, against a bare forwarder beside it.

One player sends every message to both at once, on the same server, and hears both. The daemon has
everything on: window, journal, sound, and a composer that searches all the time. The engine's own
share is measured inside it, from the stamp in the driver's callback until the message was handed
to the driver. Runs are repeated, for other work on the machine disturbs some of them.

Run inside tests/own-world.sh --screen: python -m tests.bench.bench_through [--runs N]
(a run takes about 40 s)
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

from live.faces import check_forwarder as bare
from live.faces.check_stats import nearest_rank
from tests.bench.loaded import load_average, loaded
from tests.jackworld import Heard, Player, ports
from tests.processes import wait_until
from tests.running import KEYS_IN, THROUGH

RUNS = 3
NOTES = 4000
STEP_S = 0.0073  # no multiple of the period, so that every place in it is met
SETTINGS = '[play]\nkey = "D minor"\nprogression = "i VI iv v"\n[time]\ntempo = 168.0\n'
SETTINGS += "[form]\ncall_bars = 1\nanswer_bars = 1\n"


class Limit(NamedTuple):
    """A share of all messages, and what it may be: times the bare time, and own microseconds."""

    name: str
    share: float
    ratio: float
    own_us: float


LIMITS = (Limit("median", 0.5, 1.05, 60.0), Limit("p99", 0.99, 1.15, 300.0))


def script(notes: int) -> list[tuple[float, bytes]]:
    """Notes of the scale, so that both paths carry the same bytes; none is like one near it.

    (On a machine that stands still for moments, a note that is repeated 50 ms later with the same
    velocity may come in on its heels, and looks like an echo.)
    """
    scale = (62, 64, 65, 67, 69, 70, 72)
    events = []
    for index in range(notes):
        at_s, note, velocity = index * STEP_S, scale[index % len(scale)], 1 + index % 127
        on, off = bytes((0x90, note, velocity)), bytes((0x80, note, velocity))
        events += [(at_s, on), (at_s + STEP_S / 2, off)]
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

        wait_until(both, "the forwarder's ports", step_s=0.2)
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


class Run(NamedTuple):
    """Sorted microseconds: through the daemon, through the forwarder, the engine's own share."""

    ours: list[float]
    theirs: list[float]
    own: list[float]


def measure() -> Run:
    """One run on a daemon of its own."""
    with tempfile.TemporaryDirectory() as folder:
        with loaded(Path(folder), SETTINGS) as all_on:
            with forwarder() as (bare_in, bare_out), Player("bench", ins=("ours", "bare")) as pad:
                pad.connect(pad.port("out"), KEYS_IN)
                pad.connect(THROUGH, pad.port("ours"))
                pad.connect(pad.port("out"), bare_in)
                pad.connect(bare_out, pad.port("bare"))
                pad.play(script(NOTES), start_in_s=0.5)
                pad.wait_until_sent(180)
                pad.wait_for_quiet(0.5)
                sent = pad.sent()
                ours, theirs = (times_us(sent, pad.heard(port)) for port in ("ours", "bare"))
            status = all_on.running.status()
        own = all_on.own_share_us()
    print(
        f"  {len(sent)} messages, none lost; not on: {', '.join(all_on.off) or 'nothing'}; "
        f"{status['late_answers']} late answers; {load_average()}"
    )
    return Run(ours, theirs, own)


def main() -> bool:
    """Measure and print; True if the median of the runs is within every limit."""
    count = int(sys.argv[sys.argv.index("--runs") + 1]) if "--runs" in sys.argv else RUNS
    runs = [measure() for _ in range(count)]
    fine = True
    for name, share, most, most_own_us in LIMITS:
        rows = [[nearest_rank(times, share) for times in run] for run in runs]
        ratios = sorted(ours / theirs for ours, theirs, _ in rows)
        middle, best = statistics.median(ratios), ratios[0]
        ours, theirs, own = (statistics.median(row[place] for row in rows) for place in range(3))
        least_own = min(row[2] for row in rows)
        fine &= middle <= most and own <= most_own_us
        print(
            f"through {name}, median of {count} runs: {ours:.0f} us, bare forwarder {theirs:.0f} "
            f"us, ratio {middle:.3f} (<= {most}), best run {best:.3f}; own share {own:.0f} us "
            f"(<= {most_own_us:.0f}), best run {least_own:.0f}"
        )
    print(f"  period 64 at 48 kHz; {load_average()}")
    return fine


if __name__ == "__main__":
    sys.exit(not main())
