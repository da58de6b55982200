"""The path of a live note: zone, snap, ledger, out. Everything that is not a note passes.

What is no note goes everywhere that notes of its input and channel can go to, so that both hands of
a split have the pedal. Routes copy what comes in beside all this, or instead of it.
"""

from __future__ import annotations

from collections.abc import Sequence

from live.notes.config import EngineConfig
from live.notes.copies import Copies
from live.notes.ear import Ear
from live.notes.events import ANSWER, THROUGH, Output
from live.notes.gestures import is_rest, rest_of
from live.notes.held import HeldLedger, Sounding
from live.notes.midi import (
    ACTIVE_SENSING,
    CONTROL_CHANGE,
    NOTE_OFF,
    NOTE_ON,
    POLY_PRESSURE,
    RESET_CONTROLLERS,
    SYSTEM_RESET,
    ends_notes,
    note_off,
)
from live.notes.receivers import Receivers, end_notes, on_channel
from live.notes.record import Record
from live.notes.zones import CALLS, Lead, Zone, ZoneMap
from live.theory.chords import Chord
from live.theory.snap import IN_ORDER, SnapMap, snap_map

Pressed = tuple[int, int, bool] | None
"""(sounding pitch, velocity, of a bass call) of a note that belongs to a call, or None."""


class Router:
    """Turns messages that come in into messages that leave.

    Args:
        config: the engine's settings.
        ledger: shared with the answer, which sounds on a port of its own.
        ear: is told of every note.
    Thread: one owner (the engine's).
    """

    def __init__(self, config: EngineConfig, ledger: HeldLedger, ear: Ear) -> None:
        self._ledger = ledger
        self._ear = ear
        self.receivers = Receivers(ledger)
        self._copies = Copies(ledger, self.receivers)
        self._gestures: dict[tuple[int, bytes], tuple[Lead, ...]] = {}
        """Where a gesture was sent: (source, the message that ends it) -> places."""
        self._bypassing: frozenset[int] = frozenset()
        self._previous: dict[int, int] = {}
        self._chord: Chord | None = None
        self.configure(config, 0, [])

    def configure(self, config: EngineConfig, at_ns: int, out: list[Output]) -> None:
        """Use new settings from the next note on.

        Notes that sound are left alone: their keys end them. But what a route that has changed
        holds, and what an input holds that bypasses the zones from now on, is let go.
        """
        self._copies.configure(config.routes, at_ns, out)
        named = {source for zone in config.zones for source in zone.sources}
        bypassing = frozenset(self._copies.of.keys() - named)
        for source in bypassing - self._bypassing:
            self._let_go_of_zones(at_ns, source, out)
        self._bypassing = bypassing
        self._has_switches = any(zone.role == "control" for zone in config.zones)
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

    def is_call(self, source: int, data: bytes) -> bool:
        """True if this note-on belongs to a zone that is listened to."""
        if source in self._bypassing:
            return False
        return self._zones.find(source, data[0] & 0x0F, data[1], data[2]).role in CALLS

    def may_be_cue(self, source: int, data: bytes) -> bool:
        """True if a message may give a command instead of being heard.

        If there are zones for control, a note may only there. What bypasses the zones never may.
        """
        if source in self._bypassing:
            return False
        if not self._has_switches or data[0] & 0xF0 != NOTE_ON or not data[2]:
            return True
        return self._zones.find(source, data[0] & 0x0F, data[1], data[2]).role == "control"

    def route(self, at_ns: int, source: int, data: bytes, out: list[Output]) -> Pressed:
        """Handle one message; records of what leaves are added to `out`.

        Returns: what was pressed if a note of a call zone began, else None.
        """
        if source in self._copies.of:
            self._copies.copy(at_ns, source, data, out)
            if source in self._bypassing:
                return None
        kind = data[0] & 0xF0
        if kind == NOTE_ON and data[2]:
            return self._note_on(at_ns, source, data, out)
        if kind in (NOTE_ON, NOTE_OFF):
            self._note_off(at_ns, source, data, out)
        elif kind == POLY_PRESSURE:
            self._poly_pressure(at_ns, source, data, out)
        elif kind != 0xF0:
            self._spread(at_ns, source, data, out)
        else:
            self._system(at_ns, source, data, out)
        return None

    def zone_of(self, source: int, channel: int) -> Sequence[int]:
        """The channels of an input that a mode message on this one is meant for (MPE).

        A channel that zones move to another is no manager of others.
        """
        for output, out_channel in self._zones.leads(source, channel):
            if out_channel == channel:
                return self.receivers.on(output).zone(channel)
        return (channel,)

    def let_go(self, at_ns: int, source: int, out: list[Output]) -> None:
        """An input has gone: its keys and pedals come up."""
        self._let_go_of_zones(at_ns, source, out)
        self._copies.let_go(at_ns, source, out)

    def let_everything_go(self, at_ns: int, out: list[Output]) -> None:
        """Every key and pedal comes up, the answer's notes end."""
        end_notes(at_ns, self._ledger.release_all(), out)
        self.receivers.lift(at_ns, None, out)
        self._gestures.clear()

    def silence(self, at_ns: int, out: list[Output]) -> None:
        """Tell every receiver to fall silent; what sounds must have been ended before."""
        for output in (THROUGH, ANSWER, *self._config.outputs):
            self.receivers.silence(at_ns, output, out)

    def _let_go_of_zones(self, at_ns: int, source: int, out: list[Output]) -> None:
        end_notes(at_ns, self._ledger.release_source(source), out)
        self.receivers.lift(at_ns, source, out)
        self._gestures = {at: to for at, to in self._gestures.items() if at[0] != source}

    def _spread(self, at_ns: int, source: int, data: bytes, out: list[Output]) -> None:
        """What is of a channel and no note goes to every place that notes of it can go to."""
        channel = data[0] & 0x0F
        leads = self._zones.leads(source, channel)
        if data[0] & 0xF0 == CONTROL_CHANGE and ends_notes(data):
            for one in self.zone_of(source, channel):
                end_notes(at_ns, self._ledger.release_source(source, one), out)
        elif data[0] & 0xF0 == CONTROL_CHANGE and data[1] == RESET_CONTROLLERS:
            for held in list(self._gestures):
                if held[0] == source and held[1][0] & 0x0F == channel:
                    leads = _together(leads, self._gestures.pop(held))
        else:
            rest = rest_of(data)
            if rest is not None:
                leads = self._follow((source, rest), data, leads)
        for output, out_channel in leads:
            self.receivers.send(at_ns, source, output, on_channel(data, out_channel), out)

    def _follow(
        self, gesture: tuple[int, bytes], data: bytes, leads: tuple[Lead, ...]
    ) -> tuple[Lead, ...]:
        """A gesture ends wherever it was sent, whatever changed in between."""
        sent = self._gestures.get(gesture, leads)
        everywhere = leads if sent == leads else _together(leads, sent)
        if is_rest(data):
            self._gestures.pop(gesture, None)
            return everywhere
        self._gestures[gesture] = everywhere
        return leads

    def _system(self, at_ns: int, source: int, data: bytes, out: list[Output]) -> None:
        """What is of no channel; active sensing stays here."""
        if data[0] != ACTIVE_SENSING:
            for output in self._zones.outputs(source):
                if data[0] == SYSTEM_RESET:
                    self.receivers.reset(output)
                out.append(Record(at_ns, "out", output, data))

    def _note_on(self, at_ns: int, source: int, data: bytes, out: list[Output]) -> Pressed:
        channel, note, velocity = data[0] & 0x0F, data[1], data[2]
        zone = self._zones.find(source, channel, note, velocity)
        role = zone.role
        sounding = self._sounding(zone, source, channel, note)
        for ended in self._ledger.press(source, channel, note, sounding):
            off = note_off(ended.channel, ended.note)
            out.append(Record(at_ns, "out", ended.port, off))
        if role == "control":
            return None
        if role != "drums":
            tells = (zone.snap or self._config.snap) not in IN_ORDER
            self._ear.press((source, channel, note), at_ns, tells=tells)
        else:
            self._ear.strike(note, velocity, at_ns)
        if sounding is None:
            out.append(_moved(at_ns, note, None))
            return None
        on = bytes((NOTE_ON | sounding.channel, sounding.note, velocity))
        out.append(Record(at_ns, "out", sounding.port, on))
        if sounding.note != note and role != "drums":
            out.append(_moved(at_ns, note, sounding.note))
        return (sounding.note, velocity, role == "bass call") if role in CALLS else None

    def _sounding(self, zone: Zone, source: int, channel: int, note: int) -> Sounding | None:
        """Where a pressed note goes, None when it is to stay silent."""
        if zone.role == "control":
            return None
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
        return Sounding(zone.output, out_channel, target)

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
            for output, out_channel in self._zones.leads_of(source, channel, note):
                if not self._ledger.is_sounding(Sounding(output, out_channel, note)):
                    off = on_channel(data, out_channel)
                    out.append(Record(at_ns, "out", output, off))
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
            if sounding is not None:
                data = bytes((POLY_PRESSURE | sounding.channel, sounding.note, data[2]))
                out.append(Record(at_ns, "out", sounding.port, data))
        else:
            for output, out_channel in self._zones.leads_of(source, channel, note):
                out.append(Record(at_ns, "out", output, on_channel(data, out_channel)))

    def _map_of(self, policy: str) -> SnapMap:
        found = self._maps.get(policy)
        if found is None:
            chord = self._chord if policy == "chord" else None
            found = self._maps[policy] = snap_map(self._config.key, policy, chord)
        return found


def _together(one: tuple[Lead, ...], other: tuple[Lead, ...]) -> tuple[Lead, ...]:
    """The places of both, each once."""
    return tuple(dict.fromkeys(one + other))


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
