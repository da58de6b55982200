"""What a player should know of their zones: those that no note reaches, and those that overlap."""

from __future__ import annotations

from collections.abc import Sequence

from live.notes.zone_cells import cells
from live.notes.zones import Zone

_NAMES = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")


def zone_report(zones: Sequence[Zone]) -> tuple[str, ...]:
    """Sentences about zones, in their order; none if every note has one zone at most.

    A zone is reached if it is the first that fits some note: input, channel, note and velocity.
    Two overlap if a note that the first of them gets fits the second too.
    Thread: any; pure. Cost: milliseconds for 16 zones.
    """
    reached: set[int] = set()
    before: dict[int, set[int]] = {place: set() for place in range(len(zones))}
    for source in _sources(zones):
        for channel in range(16):
            here = [place for place, zone in enumerate(zones) if zone.hears(source, channel)]
            for shares in cells([zones[place] for place in here]):
                for number, (later, covers, gets) in enumerate(shares):
                    if gets:
                        reached.add(here[later])
                    before[here[later]].update(
                        here[first] for first, _, took in shares[:number] if took & covers
                    )
    told: list[str] = []
    for place, zone in enumerate(zones):
        takers = sorted(before[place])
        if place not in reached:
            told.append(_never(zone, [zones[taker].name for taker in takers]))
        else:
            told += [_overlap(zones[taker], zone) for taker in takers]
    return tuple(told)


def note_span(low: int, high: int) -> str:
    """A range of notes, `C3:E3`; one note alone, `C3`."""
    return _note(low) if low == high else f"{_note(low)}:{_note(high)}"


def _sources(zones: Sequence[Zone]) -> list[int]:
    """One source for each set of zones that listen to it, and one that none names."""
    named = sorted({source for zone in zones for source in zone.sources})
    unnamed = named[-1] + 1 if named else 0
    kinds = {tuple(source in zone.sources for zone in zones): source for source in named}
    return [*kinds.values(), unnamed]


def _never(zone: Zone, takers: Sequence[str]) -> str:
    names = " and ".join(f"'{name}'" for name in takers)
    verb = "takes" if len(takers) == 1 else "take"
    return f"zone '{zone.name}' is never reached: {names} {verb} all its notes"


def _overlap(first: Zone, second: Zone) -> str:
    where = note_span(max(first.low, second.low), min(first.high, second.high))
    low = max(first.min_velocity, second.min_velocity)
    high = min(first.max_velocity, second.max_velocity)
    if (low, high) != (1, 127):
        where += f", velocity {low}" + (f" to {high}" if high > low else "")
    return f"'{first.name}' and '{second.name}' overlap on {where}: '{first.name}' is used"


def _note(number: int) -> str:
    return f"{_NAMES[number % 12]}{number // 12 - 1}"
