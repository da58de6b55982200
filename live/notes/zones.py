"""Zones: which notes of which input are treated how. The first zone that fits a note is used."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from live.notes.midi import DRUM_CHANNEL
from live.theory.errors import FieldError
from live.theory.snap import find_policy

Role = Literal["call", "plain", "drums"]
ROLES: tuple[Role, ...] = ("call", "plain", "drums")
"""`call`: snapped and listened to. `plain`: snapped only. `drums`: passed untouched."""


@dataclass(frozen=True, slots=True)
class Zone:
    """A range of notes and what is done with it.

    Args:
        name: for people.
        role: see ROLES.
        channels: MIDI channels 0 to 15 it listens to; empty = all.
        low, high: lowest and highest note, inclusive, 0 to 127.
        min_velocity, max_velocity: inclusive, 1 to 127.
        snap: a snap policy of its own, None = the one in force.
        transpose: semitones added after snapping, -48 to 48; what comes out is brought into the
            key again, so only octaves keep every step.
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

    def covers(self, channel: int, note: int) -> bool:
        """True if a note on this channel belongs here, whatever its velocity."""
        return (not self.channels or channel in self.channels) and self.low <= note <= self.high


DRUMS: Zone = Zone("drums", "drums", channels=frozenset({DRUM_CHANNEL}))
"""Percussion is never snapped (General MIDI: channel 10)."""
EVERYTHING: Zone = Zone()


class ZoneMap:
    """Finds the zone of a note quickly.

    After the given zones come two of our own, so that no note is ever lost: drums, then
    everything. The candidates for a channel and note are found once and kept.
    """

    def __init__(self, zones: tuple[Zone, ...] = ()) -> None:
        self.zones = (*zones, DRUMS, EVERYTHING)
        self._candidates: dict[int, tuple[Zone, ...]] = {}

    def find(self, channel: int, note: int, velocity: int) -> Zone:
        """The first zone that fits; `EVERYTHING` fits always."""
        at = channel << 7 | note
        candidates = self._candidates.get(at)
        if candidates is None:
            candidates = tuple(z for z in self.zones if z.covers(channel, note))
            self._candidates[at] = candidates
        for zone in candidates:
            if zone.min_velocity <= velocity <= zone.max_velocity:
                return zone
        return EVERYTHING
