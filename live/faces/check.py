"""`undersong check` tells whether this machine is fit for live playing.

Everything measured runs in a process of its own: the waiting thread, the daemon's engine, the
bare forwarder and the player that times both.
"""

from __future__ import annotations

import argparse
import dataclasses
import json
import platform
import subprocess
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any, Final

from live.daemon.child import Child
from live.daemon.port_plan import port_plan
from live.daemon.settings import defaults, engine_config
from live.faces import check_forwarder as bare
from live.faces.check_stats import LIMIT_MS, LIMIT_VARIATION_MS, Times, faults, summarise
from live.faces.output import complain, emit_json, say, say_columns
from live.faces.values import seconds
from live.notes.events import KEYS_IN, THROUGH
from live.ports.api import PortError

_ENGINE_CLIENT: Final = "undersong checked"
_MIN_S, _MAX_S = 0.5, 3600.0
_SPARE_S: Final = 60.0  # a measurement that has not ended this long after its time hangs


@dataclasses.dataclass(frozen=True, slots=True)
class Findings:
    """What was measured.

    Args:
        waits: lateness of a waiting thread.
        daemon: time through the engine, None without a MIDI service.
        bare: time through the bare forwarder, None without a MIDI service.
        lost: messages lost on the way, by path.
        problem: why the through time was not measured; empty if it was.
    """

    waits: Times
    daemon: Times | None = None
    bare: Times | None = None
    lost: Mapping[str, int] = dataclasses.field(default_factory=dict)
    problem: str = ""

    @property
    def faults(self) -> list[str]:
        """Why the machine is not fit, as far as it was measured."""
        return [] if self.daemon is None else faults(self.daemon, self.lost["daemon"])


def run(args: argparse.Namespace) -> int:
    """Measure, print, and end with 1 if there is no MIDI service to measure on."""
    length_s = seconds("seconds", args.seconds, _MIN_S, _MAX_S)
    found = measure(length_s)
    if args.json:
        emit_json(_as_json(found))
    else:
        _tell(found)
    if found.problem:
        complain(found.problem)
        return 1
    return 0


def measure(length_s: float) -> Findings:
    """Measure waiting, then both ways through, each for `length_s` seconds."""
    late_ns = _ask("live.faces.check_wait", f"{length_s}", length_s)["late_ns"]
    waits = summarise(late_ns)
    try:
        through = _through(length_s)
    except PortError as error:
        return Findings(waits, problem=str(error))
    times = {name: summarise(path["times_ns"]) for name, path in through.items()}
    lost = {name: path["sent"] - path["came_back"] for name, path in through.items()}
    return Findings(waits, times["daemon"], times["bare"], lost)


def _through(length_s: float) -> dict[str, Any]:
    """Raw results by path; PortError without a MIDI service."""
    from live.ports.rt import open_driver

    open_driver(client=_ENGINE_CLIENT).close()  # says in one sentence if there is none
    paths = {
        "daemon": {"to": [_ENGINE_CLIENT, KEYS_IN], "from": [_ENGINE_CLIENT, THROUGH]},
        "bare": {"to": [bare.CLIENT, bare.IN_PORT], "from": [bare.CLIENT, bare.OUT_PORT]},
    }
    order = json.dumps({"seconds": length_s, "paths": paths})
    with _engine(), _forwarder():
        return _ask("live.faces.check_player", order, length_s)


@contextmanager
def _engine() -> Iterator[None]:
    """The daemon's engine with its default settings, on ports of its own."""
    settings = defaults().changed({"play.key": "D minor", "ports.client": _ENGINE_CLIENT})
    settings = settings.changed({"ports.keyboards": []})
    child = Child("live.daemon.engine_process", lambda _child, _frame: None)
    try:
        child.send((engine_config(settings), port_plan(settings)))
        yield
        child.send(("quit",))
    finally:
        child.end(5.0)


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


def _as_json(found: Findings) -> dict[str, object]:
    fit = None if found.daemon is None else not found.faults
    return {
        "system": f"{platform.system()} {platform.release()}",
        "fit": fit,
        "verdict": verdict(found),
        "through": None if found.daemon is None else found.daemon.as_dict(),
        "bare": None if found.bare is None else found.bare.as_dict(),
        "lost": dict(found.lost),
        "waits": found.waits.as_dict(),
        "limit_ms": LIMIT_MS,
        "limit_variation_ms": LIMIT_VARIATION_MS,
    }


def verdict(found: Findings) -> str:
    """Whether the machine is fit, in words."""
    if found.problem:
        return "The way of a note could not be measured, only the waiting: no verdict."
    if found.faults:
        return f"This machine is not fit for live playing yet: {'; '.join(found.faults)}."
    return "This machine is fit for live playing."


def _tell(found: Findings) -> None:
    rows: list[tuple[str, ...]]
    rows = [("", "count", "median", "99 of 100", "longest", "varies")]
    named = (("through Undersong", found.daemon), ("through a bare forwarder", found.bare))
    for name, times in (*named, ("late wake-ups", found.waits)):
        if times is not None:
            values = (times.median_ms, times.p99_ms, times.max_ms, times.variation_ms)
            rows.append((name, str(times.count), *(f"{value:.2f} ms" for value in values)))
    say_columns(rows, right=(1, 2, 3, 4, 5))
    if found.daemon is not None and found.bare is not None:
        added_ms = found.daemon.median_ms - found.bare.median_ms
        say(f"Undersong adds {added_ms:.2f} ms (median) to the shortest way through this system.")
        say(f"lost: {found.lost['daemon']} through Undersong, {found.lost['bare']} bare")
    say(f"limits: {LIMIT_MS:g} ms, varying by {LIMIT_VARIATION_MS:g} ms (Wessel & Wright 2002)")
    say(verdict(found))
