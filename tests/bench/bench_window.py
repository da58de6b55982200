"""How soon a note that was played shows its degree on the screen, against the note's own way.

The baseline is the same note's way through to the player's ear in the same run.
Needs a screen; run inside tests/own-world.sh --screen: python -m tests.bench.bench_window
"""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
import time
from pathlib import Path

from tests.faces.window.test_beside_daemon import DEGREE, SETTINGS, number_of
from tests.jackworld import Player
from tests.processes import Started
from tests.running import KEYS_IN, THROUGH, Running
from tests.screenwatch import ScreenWatch

NOTES = 30
LIMIT_MS = 100.0


def measure(pad: Player, watch: ScreenWatch) -> list[tuple[float, float]]:
    """(ms to the ear, ms to the screen) of each note."""
    rows = []
    for index in range(NOTES):
        note = (62, 65, 69, 72)[index % 4]
        pad.forget()
        pad.send(bytes((0x90, note, 80)))
        pad.wait_until_sent()
        sent_ns = pad.sent()[0].at_ns
        shown_ns = watch.next_change(sent_ns)
        rows.append(((pad.wait_for(1)[0].at_ns - sent_ns) / 1e6, (shown_ns - sent_ns) / 1e6))
        pad.send(bytes((0x80, note, 64)))
        time.sleep(0.2 + index * 0.0037)  # to meet the screen in every phase of its frames
    return rows


def main() -> bool:
    """Measure and print; True if every note was shown within the limit."""
    with (
        tempfile.TemporaryDirectory() as folder,
        Running(Path(folder), SETTINGS) as running,
        Player("pad") as pad,
    ):
        pad.connect(pad.port("out"), KEYS_IN)
        pad.connect(THROUGH, pad.port("in"))
        command = [sys.executable, "-m", "live.faces.window", "--link", str(running.link)]
        window = Started(
            command, limit_s=100, env={**running.env, "DISPLAY": os.environ["DISPLAY"]}
        )
        try:
            with ScreenWatch(number_of(window), DEGREE) as watch:
                time.sleep(0.5)
                rows = measure(pad, watch)
        finally:
            window.close()
    ear_ms = statistics.median(ear for ear, _ in rows)
    shown = sorted(screen for _, screen in rows)
    median_ms = statistics.median(shown)
    print(
        f"note to screen: median {median_ms:.0f} ms, longest {shown[-1]:.0f} ms "
        f"(<= {LIMIT_MS:.0f}), note to ear {ear_ms:.1f} ms, ratio {median_ms / ear_ms:.0f}"
    )
    return shown[-1] <= LIMIT_MS


if __name__ == "__main__":
    sys.exit(not main())
