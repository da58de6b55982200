"""What routes copy: untouched, but never so that a note is left hanging or begun twice."""

from __future__ import annotations

from typing import NamedTuple

from live.notes.events import Output
from live.notes.held import HeldLedger, Sounding
from live.notes.midi import (
    CONTROL_CHANGE,
    NOTE_OFF,
    NOTE_ON,
    POLY_PRESSURE,
    SYSTEM_RESET,
    ends_notes,
    note_off,
)
from live.notes.places import COPY_SOURCES
from live.notes.receivers import Receivers, end_notes, on_channel
from live.notes.record import Record
from live.notes.routes import Route, part_of


class Copy(NamedTuple):
    """A route for one source, and the source's number in the ledger for it."""

    by: int
    route: Route


class Copies:
    """Copies messages along the routes.

    Args:
        ledger: the engine's.
        receivers: those of the zones too.
    Thread: one owner (the engine's).
    """

    def __init__(self, ledger: HeldLedger, receivers: Receivers) -> None:
        self._ledger = ledger
        self._receivers = receivers
        self._routes: tuple[Route, ...] = ()
        self.of: dict[int, tuple[Copy, ...]] = {}
        """The routes of each source that has any."""

    def configure(self, routes: tuple[Route, ...], at_ns: int, out: list[Output]) -> None:
        """Use other routes; what one that has changed holds is let go."""
        for index, old in enumerate(self._routes):
            if routes[index : index + 1] != (old,):
                for source in old.sources:
                    self._let_go(at_ns, _by(index, source), out)
        self._routes = routes
        sources = {source for route in routes for source in route.sources}
        self.of = {
            source: tuple(
                Copy(_by(index, source), route)
                for index, route in enumerate(routes)
                if source in route.sources
            )
            for source in sources
        }

    def let_go(self, at_ns: int, source: int, out: list[Output]) -> None:
        """An input has gone: its keys come up, its gestures end."""
        for copy in self.of.get(source, ()):
            self._let_go(at_ns, copy.by, out)

    def copy(self, at_ns: int, source: int, data: bytes, out: list[Output]) -> None:
        """Copy one message of a source that has routes."""
        status = data[0]
        part, kind, channel = part_of(status), status & 0xF0, status & 0x0F
        if part is None:
            return
        for by, route in self.of[source]:
            if status < 0xF0 and not route.hears(channel):
                continue
            if kind == CONTROL_CHANGE and ends_notes(data):
                self._end_notes(at_ns, by, route, data, out)
            if not route.copies(part):
                continue
            if kind in (NOTE_ON, NOTE_OFF):
                self._note(at_ns, by, route, data, out)
            elif status < 0xF0:
                self._spread(at_ns, by, route, data, out)
            else:
                if status == SYSTEM_RESET:
                    self._receivers.reset(route.output)
                out.append(Record(at_ns, "out", route.output, data))

    def _note(self, at_ns: int, by: int, route: Route, data: bytes, out: list[Output]) -> None:
        ledger, channel, note = self._ledger, data[0] & 0x0F, data[1]
        copied = _moved(data, route)
        sounding = Sounding(route.output, copied[0] & 0x0F, note)
        if data[0] & 0xF0 == NOTE_ON and data[2]:
            for ended in ledger.press(by, channel, note, sounding):
                off = note_off(ended.channel, ended.note)
                out.append(Record(at_ns, "out", ended.port, off))
        elif ledger.is_down(by, channel, note):
            if ledger.release(by, channel, note) is None:
                return  # another key holds it
        elif ledger.is_sounding(sounding):
            return  # a lone note-off would cut what another key holds
        out.append(Record(at_ns, "out", route.output, copied))

    def _end_notes(self, at_ns: int, by: int, route: Route, data: bytes, out: list[Output]) -> None:
        """What ends the input's notes ends their copies, even where no controllers are copied."""
        channel, zone = data[0] & 0x0F, self._receivers.on(route.output).zone(data[0] & 0x0F)
        moved = route.out_channel not in (None, channel)
        for one in (channel,) if moved else zone:
            end_notes(at_ns, self._ledger.release_source(by, one), out)

    def _spread(self, at_ns: int, by: int, route: Route, data: bytes, out: list[Output]) -> None:
        if data[0] & 0xF0 == POLY_PRESSURE:
            out.append(Record(at_ns, "out", route.output, _moved(data, route)))
        else:
            self._receivers.send(at_ns, by, route.output, _moved(data, route), out)

    def _let_go(self, at_ns: int, by: int, out: list[Output]) -> None:
        end_notes(at_ns, self._ledger.release_source(by), out)
        self._receivers.lift(at_ns, by, out)


def _by(index: int, source: int) -> int:
    return COPY_SOURCES * (index + 1) + source


def _moved(data: bytes, route: Route) -> bytes:
    return data if route.out_channel is None else on_channel(data, route.out_channel)
