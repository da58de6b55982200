"""The path of a live note: zone, snap, ledger, out. Everything that is not a note passes."""

from __future__ import annotations

from collections.abc import Sequence

from live.notes.channels import Channels
from live.notes.config import EngineConfig
from live.notes.ear import Ear
from live.notes.events import THROUGH, Output
from live.notes.facts import silence_messages
from live.notes.held import HeldLedger, Sounding
from live.notes.midi import (
    ACTIVE_SENSING,
    CONTROL_CHANGE,
    NOTE_OFF,
    NOTE_ON,
    POLY_PRESSURE,
    RESET_CONTROLLERS,
    ends_notes,
    note_off,
)
from live.notes.record import Record
from live.notes.zones import Zone, ZoneMap
from live.theory.chords import Chord
from live.theory.snap import SnapMap, snap_map

Pressed = tuple[int, int] | None
"""(sounding pitch, velocity) of a note that belongs to a call, or None."""


class Router:
    """Turns messages that come in into messages that leave on `through`.

    Args:
        config: the engine's settings.
        ledger: shared with the answer, which sounds on a port of its own.
        ear: is told of every note.
    Thread: one owner (the engine's).
    """

    def __init__(self, config: EngineConfig, ledger: HeldLedger, ear: Ear) -> None:
        self._ledger = ledger
        self._ear = ear
        self._channels = Channels()
        self._previous: dict[int, int] = {}
        self._chord: Chord | None = None
        self.configure(config)

    def configure(self, config: EngineConfig) -> None:
        """Use new settings from the next note on; notes that sound are left alone."""
        self._zones = ZoneMap(config.zones)
        self._config = config
        self._maps: dict[str, SnapMap] = {}
        policies = {config.snap, *(zone.snap for zone in config.zones)}
        self.needs_chord = "chord" in policies
        if self.needs_chord and config.progression is not None:
            for stretch in config.progression.stretches:
                snap_map(config.key, "chord", stretch.chord)  # made now, found later
        self._map = self._map_of(config.snap)

    def set_chord(self, chord: Chord | None) -> None:
        """The chord that sounds now, for the `chord` policy."""
        if chord != self._chord:
            self._chord = chord
            self._maps.clear()
            self._map = self._map_of(self._config.snap)

    def is_call(self, data: bytes) -> bool:
        """True if this note-on belongs to a zone that is listened to."""
        return self._zones.find(data[0] & 0x0F, data[1], data[2]).role == "call"

    def route(self, at_ns: int, source: int, data: bytes, out: list[Output]) -> Pressed:
        """Handle one message; records of what leaves are added to `out`.

        Returns: (sounding pitch, velocity) if a note of the call zone began, else None.
        """
        kind = data[0] & 0xF0
        if kind == NOTE_ON and data[2]:
            return self._note_on(at_ns, source, data, out)
        if kind in (NOTE_ON, NOTE_OFF):
            self._note_off(at_ns, source, data, out)
        elif kind == POLY_PRESSURE:
            self._poly_pressure(at_ns, source, data, out)
        elif data[0] != ACTIVE_SENSING:
            if kind == CONTROL_CHANGE:
                self._control(at_ns, source, data, out)
            if kind >= CONTROL_CHANGE:
                self._channels.gesture(source, data)
            out.append(Record(at_ns, "out", THROUGH, data))
        return None

    def zone_of(self, channel: int) -> Sequence[int]:
        """The channels that a mode message on this one is meant for (MPE)."""
        return self._channels.zone(channel)

    def lift_pedals(self, at_ns: int, source: int | None, out: list[Output]) -> None:
        """Pedals, wheels and pressure that a source holds go to rest (None = every source's)."""
        channels = self._channels
        lifts = channels.lift_all() if source is None else channels.lift_of(source)
        out.extend(Record(at_ns, "out", THROUGH, lift) for lift in lifts)

    def silence(self, at_ns: int, out: list[Output]) -> None:
        """Tell the receiver to fall silent; what sounds must have been ended before."""
        self._channels.forget_parameters()
        out.extend(Record(at_ns, "out", THROUGH, data) for data in silence_messages())

    def reset(self) -> None:
        """The receiver is told to go back to how it was switched on."""
        self._channels.reset()

    def _control(self, at_ns: int, source: int, data: bytes, out: list[Output]) -> None:
        """What a mode message ends at the receiver ends here too, by messages of its own.

        A receiver may ignore it (MIDI 1.0, channel mode messages).
        """
        channel, channels = data[0] & 0x0F, self._channels
        if ends_notes(data):
            ended: list[Sounding] = []
            zone = channels.zone(channel)
            for one in zone:
                ended += self._ledger.release_source(source, one)
            ended += self._ledger.silence(THROUGH, zone)
            out.extend(Record(at_ns, "out", s.port, note_off(s.channel, s.note)) for s in ended)
        elif data[1] == RESET_CONTROLLERS:
            lifts = channels.lift(channel)
            out.extend(Record(at_ns, "out", THROUGH, lift) for lift in lifts)
        channels.control(channel, data[1], data[2])

    def _note_on(self, at_ns: int, source: int, data: bytes, out: list[Output]) -> Pressed:
        channel, note, velocity = data[0] & 0x0F, data[1], data[2]
        zone = self._zones.find(channel, note, velocity)
        sounding = self._sounding(zone, source, channel, note)
        for ended in self._ledger.press(source, channel, note, sounding):
            off = note_off(ended.channel, ended.note)
            out.append(Record(at_ns, "out", ended.port, off))
        if zone.role != "drums":
            tells = (zone.snap or self._config.snap) != "white"
            self._ear.press((source, channel, note), at_ns, tells=tells)
        else:
            self._ear.strike(note, velocity, at_ns)
        if sounding is None:
            out.append(_moved(at_ns, note, None))
            return None
        on = bytes((NOTE_ON | sounding.channel, sounding.note, velocity))
        out.append(Record(at_ns, "out", THROUGH, on))
        if sounding.note != note and zone.role != "drums":
            out.append(_moved(at_ns, note, sounding.note))
        return (sounding.note, velocity) if zone.role == "call" else None

    def _sounding(self, zone: Zone, source: int, channel: int, note: int) -> Sounding | None:
        """Where a pressed note goes, None when it is to stay silent."""
        target = note
        if zone.role != "drums":
            snap = self._map if zone.snap is None else self._map_of(zone.snap)
            target = snap.snap(note, self._previous.get(source))
            self._previous[source] = note
            if target < 0:
                return None
            if zone.transpose:
                target = self._transposed(target, zone)
        out_channel = channel if zone.out_channel is None else zone.out_channel
        return Sounding(THROUGH, out_channel, target)

    def _transposed(self, target: int, zone: Zone) -> int:
        """Move a snapped note; unless snapping is off, it is brought back into the key."""
        target = _fold(target + zone.transpose)
        policy = zone.snap or self._config.snap
        if policy == "off":
            return target
        return self._map_of("chord" if policy == "chord" else "nearest").snap(target, None)

    def _note_off(self, at_ns: int, source: int, data: bytes, out: list[Output]) -> None:
        channel, note = data[0] & 0x0F, data[1]
        velocity = data[2] if data[0] & 0xF0 == NOTE_OFF else 0
        if not self._ledger.is_down(source, channel, note):
            # A lone note-off passes, unless it would cut a note that another key holds.
            if not self._ledger.is_sounding(Sounding(THROUGH, channel, note)):
                out.append(Record(at_ns, "out", THROUGH, data))
            return
        ended = self._ledger.release(source, channel, note)
        self._ear.release((source, channel, note))
        if ended is not None:
            # Kept in the form it came in: a note-on with velocity 0 stays one (MIDI 1.0).
            off = bytes((data[0] & 0xF0 | ended.channel, ended.note, velocity))
            out.append(Record(at_ns, "out", ended.port, off))

    def _poly_pressure(self, at_ns: int, source: int, data: bytes, out: list[Output]) -> None:
        """Pressure follows the note that sounds for its key."""
        channel, note = data[0] & 0x0F, data[1]
        if self._ledger.is_down(source, channel, note):
            sounding = self._ledger.sounding_for(source, channel, note)
            if sounding is None:
                return
            data = bytes((POLY_PRESSURE | sounding.channel, sounding.note, data[2]))
        out.append(Record(at_ns, "out", THROUGH, data))

    def _map_of(self, policy: str) -> SnapMap:
        found = self._maps.get(policy)
        if found is None:
            chord = self._chord if policy == "chord" else None
            found = self._maps[policy] = snap_map(self._config.key, policy, chord)
        return found


def _fold(note: int) -> int:
    """Bring a transposed note back into 0 to 127 by octaves."""
    while note < 0:
        note += 12
    while note > 127:
        note -= 12
    return note


def _moved(at_ns: int, pressed: int, sounding: int | None) -> Record:
    shown = "null" if sounding is None else sounding
    return Record(at_ns, "moved", "", b"", f'{{"pressed":{pressed},"sounding":{shown}}}')
