"""`undersong check` tells whether this machine is fit for live playing.

Everything measured runs in a process of its own: the waiting thread, the daemon's engine, the
bare forwarder and the player that times both.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

from live.faces import check_engine
from live.faces import check_forwarder as bare
from live.faces.check_stats import summarise
from live.faces.check_timing import Heard, clock_jitter, flood_losses, lateness
from live.faces.check_verdict import Findings, Flood
from live.faces.check_words import as_json, as_lines, named
from live.faces.output import Failed, complain, emit_json, say
from live.faces.values import seconds
from live.notes.events import ANSWER, CLOCK_OUT, KEYS_IN, THROUGH
from live.ports.api import PortError

_MIN_S, _MAX_S = 0.5, 3600.0
_SPARE_S: Final = 60.0  # a measurement that has not ended this long after its time hangs
_LAST_NS: Final = 200_000_000
"""What was due so shortly before the player stopped listening need not have come."""


def run(args: argparse.Namespace) -> int:
    """Measure, print, and end with 1 if there is no MIDI service to measure on."""
    length_s = seconds("seconds", args.seconds, _MIN_S, _MAX_S)
    found = measure(length_s)
    if args.json:
        emit_json(as_json(found))
    else:
        for line in as_lines(found):
            say(line)
    if args.picture:
        _draw(found, Path(args.picture))
    if found.problem:
        complain(found.problem)
        return 1
    return 0


def measure(length_s: float) -> Findings:
    """Measure waiting, then both ways through, each for `length_s` seconds, then the floods."""
    late_ns = _ask("live.faces.check_wait", f"{length_s}", length_s)["late_ns"]
    waits = summarise(late_ns)
    try:
        _reach_service()
        with check_engine.checked_engine() as engine, _forwarder():
            heard = _through(length_s)
    except PortError as error:
        return Findings(waits, problem=str(error))
    ended_ns = heard["ended_ns"]
    due = [one for one in engine.due if one[0] < ended_ns - _LAST_NS]
    answers = lateness(due, _heard(heard["answers"]))
    pulses = [one for one in _heard(heard["clock"]) if one[0] < ended_ns]
    clock = clock_jitter(pulses, check_engine.settings()["time.tempo"])
    paths = {name: heard[name] for name in ("daemon", "bare")}
    lost = {name: path["sent"] - path["came_back"] for name, path in paths.items()}
    return Findings(
        waits,
        daemon=summarise(paths["daemon"]["times_ns"]),
        bare=summarise(paths["bare"]["times_ns"]),
        answers=summarise(answers.off_ns),
        clock=summarise(clock.off_ns),
        lost={**lost, "answers": answers.lost, "clock": clock.lost},
        floods={name: _flood(path["flood"]) for name, path in paths.items()},
        niceness=engine.niceness,
    )


def _reach_service() -> None:
    """PortError in one sentence if there is no MIDI service."""
    from live.ports.rt import open_driver

    open_driver(client=check_engine.CLIENT).close()


def _through(length_s: float) -> dict[str, Any]:
    """What the player measured; PortError if it could not."""
    ours = check_engine.CLIENT
    paths = {
        "daemon": {"to": [ours, KEYS_IN], "from": [ours, THROUGH]},
        "bare": {"to": [bare.CLIENT, bare.IN_PORT], "from": [bare.CLIENT, bare.OUT_PORT]},
    }
    listen = {"answers": [ours, ANSWER], "clock": [ours, CLOCK_OUT]}
    order = {"seconds": length_s, "paths": paths, "listen": listen}
    return _ask("live.faces.check_player", json.dumps(order), length_s)


def _heard(rows: list[list[Any]]) -> list[Heard]:
    return [(at_ns, bytes.fromhex(data)) for at_ns, data in rows]


def _flood(found: dict[str, list[str]]) -> Flood:
    sent, came = ([bytes.fromhex(one) for one in found[which]] for which in ("sent", "came"))
    return Flood(len(sent), *flood_losses(sent, came))


@contextmanager
def _forwarder() -> Iterator[None]:
    command = [sys.executable, "-c", bare.PROGRAM]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL) as process:
        try:
            yield
        finally:
            if process.stdin is not None:
                process.stdin.close()
            try:
                process.wait(5.0)
            except subprocess.TimeoutExpired:
                process.kill()


def _ask(module: str, argument: str, length_s: float) -> dict[str, Any]:
    """Run a measuring process and read its JSON; PortError with its last line if it fails."""
    try:
        ended = subprocess.run(
            [sys.executable, "-m", module, argument],
            capture_output=True,
            text=True,
            timeout=length_s + _SPARE_S,
            check=False,
        )
    except subprocess.TimeoutExpired:
        raise PortError(f"The measurement in {module} did not end.") from None
    if ended.returncode != 0:
        last = ended.stderr.strip().splitlines()[-1:] or ["it said nothing"]
        raise PortError(f"The measurement in {module} failed: {last[0]}")
    result: dict[str, Any] = json.loads(ended.stdout)
    return result


def _draw(found: Findings, path: Path) -> None:
    """Write the histograms as a picture, in a process of its own; Failed if that cannot be done."""
    rows = [[name, list(times.bins)] for name, times in named(found) if times.count]
    ended = subprocess.run(
        [sys.executable, "-m", "live.faces.check_picture", str(path)],
        input=json.dumps(rows),
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )
    if ended.returncode != 0:
        why = ended.stderr.strip().splitlines()[-1:] or [f"Qt ended with {ended.returncode}"]
        raise Failed(f"No picture, because it cannot be drawn here: {why[0]}")
