"""The system's MIDI service through python-rtmidi: raw bytes, one client for each port."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Final, TypeVar

import rtmidi

from live.ports.api import Deliver, PortError
from live.ports.match import client_name, match_port, own_port
from live.ports.probe import why_not
from live.ports.rt_port import SETTLE_S, RtInlet, RtOutlet
from live.ports.rt_raw import RawIn, RawOut, RawPort
from live.theory.errors import FieldError

_LONGEST_CLIENT_BYTES: Final = 48
"""Leaves room for our ports' names in JACK's 63 bytes."""

_Raw = TypeVar("_Raw", bound=RawPort)

_WAITING_MESSAGES: Final = 8192
"""Room for 2 s of 4,000 messages a second, 32 bytes each; the library's own 1,024 overflowed."""

_OPEN_ATTEMPTS: Final = 5
"""How often to try again when the list of ports changes while one is being opened."""


def open_driver(api: str = "auto", client: str = "undersong") -> RtDriver:
    """Reach the system's MIDI service.

    Args:
        api: `auto`, or one of `jack`, `alsa`, `core`, `winmm` where the library has it. `auto`
            takes JACK if a server answers, because then other programs play there, else the
            system's own service.
        client: name under which our ports appear, 1 to 48 bytes of UTF-8.
    Returns: the driver; its `refused` tells which services were tried before and why not taken.
    Raises: FieldError for a bad argument; PortError with every service's reason.
    Thread: the owner's. Takes up to 10 s for each service that does not answer.
    """
    if not 1 <= len(client.encode()) <= _LONGEST_CLIENT_BYTES:
        raise FieldError("client name", f"1 to {_LONGEST_CLIENT_BYTES} bytes", client)
    if not hasattr(rtmidi, "get_compiled_api"):
        raise PortError(
            "The package 'rtmidi' that is installed is another one: uninstall 'rtmidi' and "
            "'rtmidi-python', then install 'python-rtmidi' once more."
        )
    refused: dict[str, str] = {}
    for number in _candidates(api):
        has_server = rtmidi.get_api_name(number) not in _WITHOUT_SERVER
        reason = why_not(number, client) if has_server else ""
        if not reason:
            try:
                return RtDriver(number, client, refused)
            except rtmidi.RtMidiError as error:
                reason = str(error)
        refused[_service(number)] = reason
    told = "; ".join(f"{service}: {reason}" for service, reason in refused.items())
    raise PortError(f"No MIDI service can be reached ({told or 'the library knows none'}).")


_WITHOUT_SERVER: Final = frozenset({"winmm", "core"})
"""Services that are part of the system: opening them neither hangs nor prints."""


def _candidates(api: str) -> list[int]:
    """API numbers to try, in order."""
    compiled: list[int] = rtmidi.get_compiled_api()
    by_name = {rtmidi.get_api_name(number): number for number in compiled}
    by_name.pop("dummy", None)
    if api == "auto":
        return sorted(by_name.values(), key=lambda number: number != rtmidi.API_UNIX_JACK)
    if api not in by_name:
        raise FieldError("MIDI service", ", ".join(["auto", *by_name]), api)
    return [by_name[api]]


def _service(api: int) -> str:
    """The service's name for people: JACK, ALSA, CoreMIDI, Windows."""
    names = {rtmidi.API_UNIX_JACK: "JACK", rtmidi.API_LINUX_ALSA: "ALSA"}
    names |= {rtmidi.API_MACOSX_CORE: "CoreMIDI", rtmidi.API_WINDOWS_MM: "Windows"}
    return names.get(api) or str(rtmidi.get_api_display_name(api))


def _roomy_input(api: int, client: str) -> RawIn:
    """A MidiIn that can hold what comes in while callbacks rest."""
    made: RawIn = rtmidi.MidiIn(api, client, _WAITING_MESSAGES)
    return made


class RtDriver:
    """Ports of one MIDI service.

    Args:
        api: RtMidi's number of the service.
        client: the name our clients begin with.
        refused: services that were tried before, and why they were not taken.
    Raises: rtmidi.RtMidiError if the service does not answer.
    Thread: the owner's, for everything.
    """

    def __init__(self, api: int, client: str, refused: dict[str, str] | None = None) -> None:
        self.name: str = rtmidi.get_api_name(api)
        self.has_virtual_ports = api != rtmidi.API_WINDOWS_MM
        self.refused = dict(refused or {})
        self._api = api
        self._client = client
        self._inlets: list[RtInlet] = []
        self._outlets: list[RtOutlet] = []
        # Two objects that live as long as the driver: one for every listing would leak clients.
        self._lists_sources: RawIn = rtmidi.MidiIn(api, f"{client} list")
        self._lists_sinks: RawOut = rtmidi.MidiOut(api, f"{client} list")
        self._closed = False
        self._is_still = False

    def input_names(self) -> list[str]:
        """Ports of others that we could listen to."""
        return [n for n in self._listed(self._lists_sources) if not own_port(n, self._client)]

    def output_names(self) -> list[str]:
        """Ports of others that we could send to."""
        return [n for n in self._listed(self._lists_sinks) if not own_port(n, self._client)]

    def open_input(self, name: str, deliver: Deliver, *, virtual: bool) -> RtInlet:
        """Offer our own input, or connect to the existing port that `name` means."""
        self._check(name, self._lists_sources, virtual=virtual)
        with self.still():
            raw = self._new(_roomy_input, name, virtual=virtual)
            inlet = RtInlet(raw, deliver, self.still)
            try:
                inlet.name = self._open(raw, name, "in", virtual=virtual)
            except BaseException:
                inlet.close()
                raise
            self._inlets = [*(one for one in self._inlets if not one.closed), inlet]
        return inlet

    def open_output(self, name: str, *, virtual: bool) -> RtOutlet:
        """Offer our own output, or connect to the existing port that `name` means."""
        self._check(name, self._lists_sinks, virtual=virtual)
        with self.still():
            raw = self._new(rtmidi.MidiOut, name, virtual=virtual)
            outlet = RtOutlet(raw, rtmidi.RtMidiError, self.still)
            try:
                outlet.name = self._open(raw, name, "out", virtual=virtual)
            except BaseException:
                outlet.close()
                raise
            self._outlets = [*(one for one in self._outlets if not one.closed), outlet]
        return outlet

    @contextmanager
    def still(self) -> Iterator[None]:
        """Open or close several ports in one go: what comes in meanwhile is delivered after it.

        Opening and closing hold Python's lock and wait for the service; a server that waits for
        its clients waits for our callback, which wants the lock. May be nested.
        """
        if self._is_still:
            yield
            return
        self._is_still = True
        try:
            if sum(inlet.detach() for inlet in self._inlets):
                time.sleep(SETTLE_S)
            yield
        finally:
            self._is_still = False
            interval_s = sys.getswitchinterval()
            sys.setswitchinterval(1.0)  # attaching keeps Python's lock ...
            time.sleep(0.001)  # ... and whoever waits for it must know of that
            for inlet in self._inlets:
                inlet.attach()
            sys.setswitchinterval(interval_s)

    def close(self) -> None:
        """Close every port, then the driver. Safe to call twice."""
        if self._closed:
            return
        self._closed = True
        with self.still():
            for inlet in self._inlets:
                inlet.close()
            for outlet in self._outlets:
                outlet.close()
            # Never touched again: every use is behind `_closed`.
            self._lists_sources.delete()
            self._lists_sinks.delete()

    def _check(self, name: str, lister: RawPort, *, virtual: bool) -> None:
        """PortError if no port can be meant, before a client is made: that takes 16 to 40 ms."""
        if not virtual:
            self._meant(name, self._listed(lister))

    def _meant(self, name: str, listed: list[str]) -> str:
        """The existing port that `name` means; our own only by its full name."""
        others = [full for full in listed if not own_port(full, self._client)]
        return name if name in listed else match_port(name, others)

    def _listed(self, lister: RawPort) -> list[str]:
        """Port names in the service's order."""
        if self._closed:
            raise PortError("The MIDI driver is closed.")
        names = (lister.get_port_name(i, encoding=None) for i in range(lister.get_port_count()))
        return [_text(name) for name in names]

    def _new(self, kind: Callable[[int, str], _Raw], name: str, *, virtual: bool) -> _Raw:
        """A client of its own for one port."""
        if self._closed:
            raise PortError("The MIDI driver is closed.")
        if virtual and not self.has_virtual_ports:
            raise PortError(
                f"'{name}' cannot be offered: {_service(self._api)} has no virtual ports."
            )
        client = client_name(self._client, name if virtual else "link")
        try:
            return kind(self._api, client)
        except rtmidi.RtMidiError as error:
            raise PortError(f"'{name}' cannot be opened: {error}.") from error

    def _open(self, raw: RawPort, name: str, direction: str, *, virtual: bool) -> str:
        """Open `raw` as asked; returns the full name."""
        try:
            if virtual:
                return self._offer(raw, name, direction)
            return self._join(raw, name, direction)
        except rtmidi.RtMidiError as error:
            hint = "" if virtual else " Another program may be using it."
            raise PortError(f"'{name}' cannot be opened: {error}.{hint}") from error

    def _offer(self, raw: RawPort, name: str, direction: str) -> str:
        """Show a port of our own, and read back what the system calls it."""
        lister = self._lists_sinks if direction == "in" else self._lists_sources
        before = self._listed(lister)
        # CoreMIDI shows no clients, so there the port's name must say whose it is.
        bare = self._api == rtmidi.API_MACOSX_CORE
        raw.open_virtual_port(client_name(self._client, name) if bare else name)
        added = [full for full in self._listed(lister) if full not in before]
        ours = [full for full in added if own_port(full, self._client) and name in full]
        return ours[0] if len(ours) == 1 else f"{client_name(self._client, name)}:{name}"

    def _join(self, raw: RawPort, name: str, direction: str) -> str:
        """Connect to an existing port; by index, so the list must hold still meanwhile."""
        for _ in range(_OPEN_ATTEMPTS):
            before = self._listed(raw)
            wanted = self._meant(name, before)
            raw.open_port(before.index(wanted), direction)
            if self._listed(raw)[: len(before)] == before:
                return wanted
            raw.close_port()
        raise PortError(f"'{name}' cannot be opened: the list of ports does not hold still.")


def _text(name: bytes | None) -> str:
    """A port's name; UTF-8 if it is, else taken byte by byte."""
    raw = name or b""
    try:
        return raw.decode()
    except UnicodeDecodeError:
        return raw.decode("latin-1")
