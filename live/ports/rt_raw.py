"""What we use of python-rtmidi's MidiIn and MidiOut, as types; the library ships none."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol


class RawPort(Protocol):
    """Common to both. A JACK or ALSA client of its own; opens one port at most."""

    def get_port_count(self) -> int:
        """Number of existing ports of the other direction."""

    def get_port_name(self, port: int, encoding: None) -> bytes | None:
        """Name of one of them as the service gives it."""

    def open_port(self, port: int, name: str) -> object:
        """Open a port of our own, called `name`, joined to existing port number `port`."""

    def open_virtual_port(self, name: str) -> object:
        """Open a port of our own for others to join."""

    def close_port(self) -> None:
        """Close our port."""

    def delete(self) -> None:
        """End the client; the object must never be touched again."""


class RawIn(RawPort, Protocol):
    """A MidiIn."""

    def ignore_types(self, *, sysex: bool, timing: bool, active_sense: bool) -> None:
        """Which kinds of messages the library drops by itself."""

    def set_callback(self, func: Callable[[tuple[list[int], float], object], None]) -> None:
        """Called as func((bytes, seconds since the last message), None) on the library's thread."""

    def cancel_callback(self) -> None:
        """Stop calling; what comes in waits in the library's queue."""

    def get_message(self) -> tuple[list[int], float] | None:
        """The oldest message of the queue, as the callback would get it; None if it is empty."""


class RawOut(RawPort, Protocol):
    """A MidiOut."""

    def send_message(self, message: bytes) -> None:
        """Send one message of 1 to 3 bytes, or a system exclusive."""
