"""A million messages at 4,000 a second in total from four inputs: none lost, moved or stuck.

One input is the daemon's own, three are named keyboards. Every message that comes back is checked
as it comes. The baseline is a bare python-rtmidi forwarder with a single input, which gets the
first of the four streams at the same time.

Run inside tests/own-world.sh: python -m tests.bench.bench_flood [--slow] [--messages N]
(--slow: the whole million, 260 s; else 100,000)
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from tests.bench.bench_through import forwarder
from tests.bench.flood_player import OUTS
from tests.bench.loaded import load_average
from tests.jackworld import Player, connect, wait_for_port
from tests.processes import wait_until
from tests.running import KEYS_IN, THROUGH, Running

MESSAGES, SLOW_MESSAGES = 100_000, 1_000_000
PER_SECOND = 4_000
PATIENCE = 6
"""A server that waits for its clients slows down on a busy machine: so many times as long, at most,
and a minute."""
SETTINGS = '[play]\nkey = "D minor"\nsnap = "off"\n[time]\nstart_on_first_note = false\n'
SETTINGS += f"[ports]\nkeyboards = {json.dumps([f'flood:{out}' for out in OUTS[1:]])}\n"


def limit_s(messages: int) -> float:
    """How long so many messages may take."""
    return PATIENCE * messages / PER_SECOND + 60


def flood(messages: int, running: Running, bare: tuple[str, str]) -> tuple[dict[str, Any], int]:
    """What the player counted, and how many the forwarder gave back (heard by another player)."""
    command = [sys.executable, "-m", "tests.bench.flood_player", str(messages), str(PER_SECOND)]
    pipe = subprocess.PIPE
    with subprocess.Popen(command, stdin=pipe, stdout=pipe, text=True) as player:
        assert player.stdin is not None
        assert player.stdout is not None
        assert player.stdout.readline() == "ready\n"
        wait_for_port("flood:in")
        inputs = running.status
        wait_until(
            lambda: {p["state"] for p in inputs()["inputs"]} == {"open"}, "inputs", step_s=0.2
        )
        connect(f"flood:{OUTS[0]}", KEYS_IN)
        connect(THROUGH, "flood:in")
        with Player("baseline", outs=()) as ear:
            connect(f"flood:{OUTS[0]}", bare[0])
            ear.connect(bare[1], ear.port("in"))
            player.stdin.write("go\n")
            player.stdin.flush()
            out, _ = player.communicate(timeout=limit_s(messages))
            back = len(ear.heard())
    found: dict[str, Any] = json.loads(out)
    return found, back


def main() -> bool:
    """Flood, print, and say whether nothing was lost, moved or stuck."""
    arguments = sys.argv
    wanted = SLOW_MESSAGES if "--slow" in arguments else MESSAGES
    if "--messages" in arguments:
        wanted = int(arguments[arguments.index("--messages") + 1])
    with tempfile.TemporaryDirectory() as folder:
        limit = limit_s(wanted) + 60
        with forwarder() as bare, Running(Path(folder), SETTINGS, limit_s=limit) as running:
            found, back = flood(wanted, running, bare)
            lost = running.status()["lost"]
    print(
        f"{found['sent']} messages on {len(OUTS)} inputs in {found['took_s']:.0f} s: "
        f"{found['came']} came, {found['lost']} lost, {found['moved']} out of their order, "
        f"{found['strange']} that were not sent, {found['doubled']} notes begun twice, "
        f"{found['stuck']} stuck (all 0); lost by the daemon's own count {lost}"
    )
    print(
        f"  bare forwarder, one input: {back} of {found['sent'] // len(OUTS)} came; dropped by the "
        f"server itself {found['server_lost']}; {load_average()}"
    )
    bad = ("lost", "moved", "strange", "doubled", "stuck")
    return lost == 0 and not any(found[name] for name in bad)


if __name__ == "__main__":
    sys.exit(not main())
