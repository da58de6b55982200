"""`undersong ports`: which MIDI ports there are, which are or would be used, and why."""

from __future__ import annotations

import argparse
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from live.daemon.labels import AUTO
from live.daemon.link import LinkClient, LinkError
from live.daemon.port_plan import PortPlan, hardware_keyboards, port_plan, wanted_ports
from live.daemon.routing import routing_notes, routing_rows
from live.daemon.settings import Settings, load
from live.faces.output import emit_json, failing_on, say, say_columns
from live.ports.api import Driver, PortError
from live.ports.match import loops_back, match_port

Row = dict[str, object]
"""A port for JSON: role, name, used, reason."""


def run(args: argparse.Namespace) -> int:
    """Ask the running daemon; without one look at the MIDI service ourselves."""
    found = _of_the_daemon() or _without_daemon(load())
    if args.json:
        emit_json(found)
    else:
        _tell(found)
    return 0


def _of_the_daemon() -> dict[str, object] | None:
    try:
        client = LinkClient.connect()
    except LinkError:
        return None
    with failing_on(LinkError), client:
        status = client.tell("status")
    inputs = [_view_row(view) for view in status.get("inputs", ())]
    outputs = [_view_row(view) for view in status.get("outputs", ())]
    rows, notes = status.get("routing", ()), status.get("routing_notes", ())
    found = _found("in use by the running daemon", inputs, outputs)
    return {**found, "routing": [*rows], "routing_notes": [*notes]}


def _view_row(view: Mapping[str, Any]) -> Row:
    state, reason = view.get("state", ""), view.get("reason", "")
    why = f"{state}: {reason}" if state and reason else state or reason
    return _row(view.get("role", ""), view.get("name", ""), why, used=state == "open")


def _without_daemon(settings: Settings) -> dict[str, object]:
    from live.ports.rt import open_driver

    plan = port_plan(settings)
    routing = [asdict(row) for row in routing_rows(settings)]
    with failing_on(PortError):
        driver = open_driver(plan.service, plan.client)
        try:
            found = plan_rows(plan, driver)
        finally:
            driver.close()
    return {**found, "routing": routing, "routing_notes": [*routing_notes(settings)]}


def plan_rows(plan: PortPlan, driver: Driver) -> dict[str, object]:
    """What the daemon would open on a driver, and what else is there."""
    names: dict[bool, list[str]] = {True: driver.input_names(), False: driver.output_names()}
    rows: dict[bool, list[Row]] = {True: [], False: []}
    for wanted in wanted_ports(plan, has_virtual=driver.has_virtual_ports):
        there = names[wanted.is_input]
        rows[wanted.is_input].append(_wanted_row(wanted.role, wanted.name, there))
    if AUTO in plan.keyboards:
        for name in hardware_keyboards(names[True], driver.name, plan.client):
            rows[True].append(_row("keys in", name, "a keyboard", used=True))
    for is_input, there in names.items():
        taken = {row["name"] for row in rows[is_input]}
        rows[is_input] += [
            _row("", n, _why_not(n), used=False) for n in dict.fromkeys(there) if n not in taken
        ]
    return _found(f"no daemon runs; it would use {driver.name}", rows[True], rows[False])


def _wanted_row(role: str, name: str, there: Sequence[str]) -> Row:
    if not name:
        return _row(role, "", "a port of our own, for others to connect to", used=True)
    try:
        return _row(role, match_port(name, there), "named in the settings", used=True)
    except PortError as error:
        return _row(role, name, str(error), used=False)


def _why_not(name: str) -> str:
    if loops_back(name):
        return "returns what is sent to it: never joined unasked"
    return "not named in the settings"


def _row(role: str, name: str, reason: str, *, used: bool) -> Row:
    return {"role": role, "name": name, "used": used, "reason": reason}


def _found(state: str, inputs: list[Row], outputs: list[Row]) -> dict[str, object]:
    names = [str(row["name"]) for row in (*inputs, *outputs)]
    loops = list(dict.fromkeys(name for name in names if loops_back(name)))
    loops += [
        str(row["name"]) for row in (*inputs, *outputs) if str(row["reason"]).startswith("loop")
    ]
    return {"state": state, "inputs": inputs, "outputs": outputs, "loops": loops}


def _tell(found: Mapping[str, Any]) -> None:
    say(found["state"])
    for title in ("inputs", "outputs"):
        say(f"{title}:")
        rows: list[tuple[str, ...]] = [
            ("*" if row["used"] else "", row["role"] or "-", row["name"] or "-", row["reason"])
            for row in found[title]
        ]
        say_columns(rows or [("", "none")], indent=1)
    say("routing:")
    say_columns([_routing_row(row) for row in found["routing"]], indent=1)
    for sentence in found["routing_notes"]:
        say(f"note: {sentence}")
    say(f"loops: {', '.join(found['loops']) or 'none found'}")


def _routing_row(row: Mapping[str, Any]) -> tuple[str, ...]:
    """`keys in  C3:C8  right hand: the call, snap as set  -> through, channel 2`."""
    does = f"{row['name']}: {row['does']}" if row["name"] else row["does"]
    to = f"{row['output']}, channel {row['channel']}" if row["channel"] else row["output"]
    return (row["input"], row["takes"], does, f"-> {to or 'nowhere'}")
