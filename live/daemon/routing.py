"""The routing as a picture: who goes where and what is done with it, in words for people."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from live.daemon.settings import Settings, engine_config
from live.daemon.snapshot import RoutingRow
from live.notes.config import EngineConfig
from live.notes.places import ANSWER
from live.notes.routes import PARTS, Route
from live.notes.zone_report import note_span, zone_report
from live.notes.zones import DRUMS, EVERYTHING, Zone, ZoneMap

_ANY: str = "any input"
_ROLES = {
    "call": "the call",
    "bass call": "the bass call",
    "plain": "played along",
    "drums": "drums, untouched",
    "control": "control, silent",
}


def routing_rows(settings: Settings) -> tuple[RoutingRow, ...]:
    """Every way through, in the order in which it is tried: zones, what is left, routes, answer."""
    config = engine_config(settings)
    rows = [_zone_row(zone) for zone in (*config.zones, DRUMS)]
    rest = "all the rest" if config.zones else "all"
    rows.append(RoutingRow("zone", "", _ANY, rest, _does(EVERYTHING), EVERYTHING.output, 0))
    rows += [
        RoutingRow(
            "route",
            f"route {number}",
            route.input,
            _copied(route),
            "copied untouched",
            route.output,
            _number(route.out_channel, route.output),
        )
        for number, route in enumerate(config.routes, 1)
    ]
    answer = config.answer
    if answer.enabled:
        span = note_span(answer.low, answer.high)
        channel = _number(answer.channel, ANSWER)
        rows.append(RoutingRow("answer", "", "the bass", span, "answers", ANSWER, channel))
    return tuple(rows)


def routing_notes(settings: Settings) -> tuple[str, ...]:
    """What is worth knowing of it: zones that no note reaches, zones that overlap, copies."""
    config = engine_config(settings)
    return (*zone_report(config.zones), *_doubled(config))


def _zone_row(zone: Zone) -> RoutingRow:
    takes = [] if (zone.low, zone.high) == (0, 127) else [note_span(zone.low, zone.high)]
    takes += _channels(zone.channels)
    if (zone.min_velocity, zone.max_velocity) != (1, 127):
        takes.append(f"velocity {zone.min_velocity} to {zone.max_velocity}")
    output = "" if zone.role == "control" else zone.output
    return RoutingRow(
        "zone",
        zone.name,
        zone.input or _ANY,
        ", ".join(takes) or "all",
        _does(zone),
        output,
        _number(zone.out_channel, output),
    )


def _does(zone: Zone) -> str:
    words = [_ROLES[zone.role]]
    if zone.role not in ("drums", "control"):
        words.append("snap as set" if zone.snap is None else f"snap {zone.snap}")
        if zone.transpose:
            words.append(f"{zone.transpose:+d} semitones")
    return ", ".join(words)


def _copied(route: Route) -> str:
    parts = [part for part in PARTS if part in route.only]
    return ", ".join([*_channels(route.channels), *parts]) or "all"


def _channels(channels: Iterable[int]) -> list[str]:
    numbers = [str(channel + 1) for channel in sorted(channels)]
    word = "channel" if len(numbers) == 1 else "channels"
    return [f"{word} {' '.join(numbers)}"] if numbers else []


def _number(channel: int | None, output: str) -> int:
    """The channel on which something leaves, as people count; 0 = as it came, or not at all."""
    return 0 if channel is None or not output else channel + 1


def _doubled(config: EngineConfig) -> Sequence[str]:
    """Routes that send an input where its zones send it too."""
    zones, told = ZoneMap(config.zones), []
    named = {source for zone in config.zones for source in zone.sources}
    for number, route in enumerate(config.routes, 1):
        both = route.sources & named
        if any(route.output in zones.outputs(source) for source in both):
            told.append(
                f"'{route.input}' goes to '{route.output}' by its zones and by route {number} too"
            )
    return told
