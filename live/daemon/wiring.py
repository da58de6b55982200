"""Zones and routes with their labels resolved; what would go round for ever is refused."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from live.daemon.labels import Labels
from live.notes.places import RETURN, THROUGH
from live.notes.routes import Route
from live.notes.zones import Zone
from live.ports.match import loops_back
from live.theory.errors import FieldError


def resolve_zones(zones: Iterable[Zone], labels: Labels) -> tuple[Zone, ...]:
    """Zones with the source numbers of their inputs; FieldError for a label there is not."""
    return tuple(_zone(zone, labels, number) for number, zone in enumerate(zones, 1))


def resolve_routes(
    routes: Iterable[Route], zones: Sequence[Zone], labels: Labels
) -> tuple[Route, ...]:
    """Routes with the source numbers of their inputs.

    Args:
        routes: from the settings.
        zones: resolved.
        labels: from the settings.
    Raises: FieldError for a label there is not, and for a way that leads back to its beginning.
    """
    done = tuple(_route(route, labels, number) for number, route in enumerate(routes, 1))
    check_loops(zones, done, labels)
    return done


def check_loops(zones: Sequence[Zone], routes: Sequence[Route], labels: Labels) -> None:
    """FieldError if what leaves would come in again, as far as the settings tell.

    `through`, `answer` and our further outputs lead to the DAW, and the DAW to `return`; a port
    that returns what it gets leads from an output to an input. Other wires are not in the settings:
    there the loop guard (`live.notes.loop_guard`) stands watch.
    """
    leads = {
        name: _outputs_of(name, numbers, zones, routes) for name, numbers in labels.inputs.items()
    }
    for number, route in enumerate(routes, 1):
        if route.input == RETURN and route.output not in labels.others:
            allowed = "from 'return' an output of ports.outputs: all others lead back to the DAW"
            raise FieldError("route.output", allowed, route.output, f"route {number}")
        _refuse_way_back("route", f"route {number}", (route.input, route.output), leads, labels)
    for number, zone in enumerate(zones, 1):
        for name in labels.inputs:
            if zone.output in leads[name] and (not zone.sources or zone.input == name):
                where = f"zone {number}, '{zone.name}'"
                _refuse_way_back("zone", where, (name, zone.output), leads, labels)


def _refuse_way_back(
    what: str, where: str, step: tuple[str, str], leads: dict[str, set[str]], labels: Labels
) -> None:
    way = _way_back(*step, leads, labels)
    if way:
        around = " -> ".join((step[0], *way, step[0]))
        allowed = f"an output that does not lead back to '{step[0]}' (this goes {around})"
        raise FieldError(f"{what}.output", allowed, step[1], where)


def _zone(zone: Zone, labels: Labels, number: int) -> Zone:
    where = f"zone {number}, '{zone.name}'"
    _check_label("zone.output", zone.output, labels.outputs, where)
    if not zone.input:
        return zone
    names = [name for name in labels.inputs if name != RETURN]  # a zone's rest goes to the DAW
    _check_label("zone.input", zone.input, names, where)
    return replace(zone, sources=labels.inputs[zone.input])


def _route(route: Route, labels: Labels, number: int) -> Route:
    where = f"route {number}"
    _check_label("route.input", route.input, list(labels.inputs), where)
    _check_label("route.output", route.output, labels.outputs, where)
    return replace(route, sources=labels.inputs[route.input])


def _check_label(field: str, label: str, names: Sequence[str], where: str) -> None:
    if label not in names:
        raise FieldError(field, "one of " + ", ".join(f"'{name}'" for name in names), label, where)


def _outputs_of(
    label: str, numbers: frozenset[int], zones: Sequence[Zone], routes: Sequence[Route]
) -> set[str]:
    """Every output that an input's messages may be sent to."""
    found = {route.output for route in routes if route.input == label}
    if label == RETURN:
        return found
    named = any(zone.sources & numbers for zone in zones)
    if not found or named:  # else it bypasses the zones
        found |= {zone.output for zone in zones if not zone.sources or zone.sources & numbers}
        found.add(THROUGH)
    return found


def _way_back(
    start: str, output: str, leads: dict[str, set[str]], labels: Labels
) -> tuple[str, ...]:
    """The ports from an output back to an input, () if there is no way; the last leads to it."""
    ways: list[tuple[str, ...]] = [(output,)]
    seen = {output}
    while ways:
        way = ways.pop(0)
        for label in _inputs_after(way[-1], labels):
            if label == start:
                return way
            for further in sorted(leads[label] - seen):
                seen.add(further)
                ways.append((*way, label, further))
    return ()


def _inputs_after(output: str, labels: Labels) -> list[str]:
    """Inputs at which what leaves on an output comes in again."""
    if output not in labels.others:
        return [RETURN]
    if not loops_back(output):
        return []
    out = output.lower()
    return [name for name in labels.inputs if loops_back(name) and _same(name.lower(), out)]


def _same(one: str, other: str) -> bool:
    """Two names that may mean one port."""
    return one in other or other in one


def offers_return(routes: Iterable[Route]) -> bool:
    """True if the input for the DAW's return is wanted."""
    return any(route.input == RETURN for route in routes)
