"""Where messages must go, worked out from zones and routes note by note, the long way round."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from live.notes.routes import Route
from live.notes.zones import Zone

DRUM_CHANNEL = 9  # General MIDI System Level 1: channel 10 is percussion
_OURS = (Zone("drums", "drums", channels=frozenset({DRUM_CHANNEL})), Zone())


def zone_of(zones: Sequence[Zone], source: int, channel: int, note: int, velocity: int) -> Zone:
    """The zone of a note: the first that fits."""
    for zone in (*zones, *_OURS):
        if zone.sources and source not in zone.sources:
            continue
        if zone.channels and channel not in zone.channels:
            continue
        if not zone.channels and channel == DRUM_CHANNEL and zone.role != "drums":
            continue
        fits = zone.low <= note <= zone.high
        if fits and zone.min_velocity <= velocity <= zone.max_velocity:
            return zone
    return _OURS[1]


@lru_cache(maxsize=4096)
def leads(zones: tuple[Zone, ...], source: int, channel: int) -> tuple[tuple[str, int], ...]:
    """Where notes of an input and channel go, by zones."""
    used = set()
    edges = {v for z in zones for v in (z.min_velocity, z.max_velocity + 1)}
    for note in range(128):
        for velocity in {1, *edges} - {128}:  # between two edges nothing changes
            used.add(zone_of(zones, source, channel, note, velocity))
    found = []
    for zone in (*zones, *_OURS):
        lead = (zone.output, channel if zone.out_channel is None else zone.out_channel)
        if zone in used and zone.role != "control" and lead not in found:
            found.append(lead)
    return tuple(found)


def note_leads(
    zones: tuple[Zone, ...], source: int, channel: int, note: int
) -> list[tuple[str, int]]:
    """Where one note may go."""
    found = [zone_of(zones, source, channel, note, velocity) for velocity in range(1, 128)]
    sounding = [zone for zone in found if zone.role != "control"]
    every = leads(zones, source, channel)
    here = {(z.output, channel if z.out_channel is None else z.out_channel) for z in sounding}
    return [lead for lead in every if lead in here]


def outputs(zones: tuple[Zone, ...], source: int) -> list[str]:
    """Where messages of no channel go."""
    found = [output for ch in range(16) for output, _ in leads(zones, source, ch)]
    return list(dict.fromkeys(found))


def bypasses(zones: Sequence[Zone], routes: Sequence[Route], source: int) -> bool:
    """True if an input has a route and no zone that names it."""
    routed = any(source in route.sources for route in routes)
    return routed and not any(source in zone.sources for zone in zones)


def copies(route: Route, data: bytes) -> bool:
    """True if a route copies such a message."""
    if data[0] < 0xF0 and route.channels and data[0] & 0x0F not in route.channels:
        return False
    parts = {8: "notes", 9: "notes", 10: "pressure", 11: "controllers", 12: "programs"}
    parts |= {13: "pressure", 14: "bend"}
    part = parts.get(data[0] >> 4, "sysex" if data[0] in (0xF0, 0xF6, 0xFF) else "clock")
    return data[0] != 0xFE and (not route.only or part in route.only)


def moved(data: bytes, channel: int | None) -> bytes:
    """A message on another channel; one of no channel stays as it is."""
    if channel is None or data[0] >= 0xF0:
        return data
    return bytes([data[0] & 0xF0 | channel]) + data[1:]
