"""Zones: which notes of which input are treated how. The first zone that fits a note is used."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from live.notes.midi import DRUM_CHANNEL
from live.notes.places import THROUGH
from live.notes.zone_cells import reached, velocities
from live.theory.errors import FieldError
from live.theory.snap import find_policy

Role = Literal["call", "bass call", "plain", "drums", "control"]
ROLES: tuple[Role, ...] = ("call", "bass call", "plain", "drums", "control")
"""`call`: snapped and listened to. `bass call`: a call that is a bass line, answered in kind.
`plain`: snapped only. `drums`: passed untouched. `control`: never sounds and is no call."""

CALLS: Final = frozenset({"call", "bass call"})

Lead = tuple[str, int]
"""Where a zone leads: (output, channel 0 to 15)."""


@dataclass(frozen=True, slots=True)
class Zone:
    """A range of notes and what is done with it.

    Args:
        name: for people.
        role: see ROLES.
        input: the label it was given, for people; `sources` decides.
        sources: source numbers it listens to; empty = all.
        channels: MIDI channels 0 to 15 it listens to; empty = all, but channel 10 (General MIDI:
            percussion) only if the role is `drums`.
        low, high: lowest and highest note, inclusive, 0 to 127.
        min_velocity, max_velocity: inclusive, 1 to 127.
        snap: a snap policy of its own, None = the one in force.
        transpose: semitones added after snapping, -48 to 48; what comes out is brought into the
            key again, so only octaves keep every step.
        output: label of the output it leads to.
        out_channel: channel 0 to 15 it leaves on, None = the one it came on.
    Raises: FieldError.
    """

    name: str = "all"
    role: Role = "call"
    channels: frozenset[int] = frozenset()
    low: int = 0
    high: int = 127
    min_velocity: int = 1
    max_velocity: int = 127
    snap: str | None = None
    transpose: int = 0
    out_channel: int | None = None
    input: str = ""
    output: str = THROUGH
    sources: frozenset[int] = frozenset()

    def __post_init__(self) -> None:
        if not 0 <= self.low <= self.high <= 127:
            raise FieldError("zone range", "two notes in order, 0 to 127", (self.low, self.high))
        if not 1 <= self.min_velocity <= self.max_velocity <= 127:
            got = (self.min_velocity, self.max_velocity)
            raise FieldError("zone velocity", "two velocities in order, 1 to 127", got)
        if not -48 <= self.transpose <= 48:
            raise FieldError("zone transpose", "-48 to 48 semitones", self.transpose)
        if self.role not in ROLES:
            raise FieldError("zone role", ", ".join(ROLES), self.role)
        for channel in (*self.channels, self.out_channel or 0):
            if not 0 <= channel <= 15:
                raise FieldError("zone channel", "0 to 15", channel)
        if self.snap is not None:
            find_policy(self.snap)

    def hears(self, source: int, channel: int) -> bool:
        """True if some notes of this input and channel belong here."""
        if self.sources and source not in self.sources:
            return False
        if self.channels:
            return channel in self.channels
        return channel != DRUM_CHANNEL or self.role == "drums"

    def covers(self, source: int, channel: int, note: int) -> bool:
        """True if a note of this input and channel belongs here, whatever its velocity."""
        return self.low <= note <= self.high and self.hears(source, channel)


DRUMS: Zone = Zone("drums", "drums", channels=frozenset({DRUM_CHANNEL}))
"""Percussion is never snapped (General MIDI System Level 1, 1991: channel 10)."""
EVERYTHING: Zone = Zone()


class ZoneMap:
    """Finds the zone of a note quickly, and where the rest of its input goes.

    After the given zones come two of our own, so that no note is ever lost: drums, then
    everything. What was found once is kept.
    """

    def __init__(self, zones: tuple[Zone, ...] = ()) -> None:
        self.zones = (*zones, DRUMS, EVERYTHING)
        self._candidates: dict[int, tuple[Zone, ...]] = {}
        self._leads: dict[int, tuple[Lead, ...]] = {}
        self._outputs: dict[int, tuple[str, ...]] = {}

    def find(self, source: int, channel: int, note: int, velocity: int) -> Zone:
        """The first zone that fits; `EVERYTHING` fits always."""
        at = source << 11 | channel << 7 | note
        candidates = self._candidates.get(at)
        if candidates is None:
            candidates = tuple(z for z in self.zones if z.covers(source, channel, note))
            self._candidates[at] = candidates
        for zone in candidates:
            if zone.min_velocity <= velocity <= zone.max_velocity:
                return zone
        return EVERYTHING

    def leads_of(self, source: int, channel: int, note: int) -> tuple[Lead, ...]:
        """Every place that this note can go to, by its velocity."""
        taken, found = 0, []
        for zone in self.zones:
            if zone.covers(source, channel, note):
                if velocities(zone) & ~taken and zone.role != "control":
                    found.append(_lead(zone, channel))
                taken |= velocities(zone)
        return tuple(dict.fromkeys(found))

    def leads(self, source: int, channel: int) -> tuple[Lead, ...]:
        """Every place that a note of this input and channel can go to, each once, by zones.

        There go pedals, controllers, bends and pressures. Cost: 0.1 ms for 16 zones, once.
        """
        at = source << 4 | channel
        found = self._leads.get(at)
        if found is None:
            here = [z for z in self.zones if z.hears(source, channel)] or [EVERYTHING]
            sounding = (here[i] for i in reached(here) if here[i].role != "control")
            outs = (_lead(zone, channel) for zone in sounding)
            found = self._leads[at] = tuple(dict.fromkeys(outs))
        return found

    def outputs(self, source: int) -> tuple[str, ...]:
        """Every output that a note of this input can go to: there go messages of no channel."""
        found = self._outputs.get(source)
        if found is None:
            leads = (lead for channel in range(16) for lead in self.leads(source, channel))
            found = self._outputs[source] = tuple(dict.fromkeys(output for output, _ in leads))
        return found


def _lead(zone: Zone, channel: int) -> Lead:
    return zone.output, channel if zone.out_channel is None else zone.out_channel
