"""What a MIDI driver offers. Every kind of port passes the same contract tests."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from typing import Protocol

Deliver = Callable[[int, bytes], None]
"""Called as deliver(at_ns, data) on the driver's own thread: monotonic stamp, one raw message.

Must return at once and must not raise.
"""


class Inlet(Protocol):
    """An open input port."""

    @property
    def name(self) -> str:
        """The port's full name as the system shows it."""

    def close(self) -> None:
        """Stop delivering, then close. Safe to call twice. Thread: the owner's."""


class Outlet(Protocol):
    """An open output port. One thread only may send."""

    @property
    def name(self) -> str:
        """The port's full name as the system shows it."""

    @property
    def rejected(self) -> int:
        """Messages not sent because they were not whole, or too long."""

    def send(self, data: bytes) -> None:
        """Send one whole MIDI message (no running status)."""

    def close(self) -> None:
        """Close after what was sent has left. Safe to call twice. Thread: the owner's."""


class Driver(Protocol):
    """A way to reach MIDI ports: a system's driver, or memory."""

    @property
    def name(self) -> str:
        """Short name of the system's MIDI service, for people."""

    @property
    def has_virtual_ports(self) -> bool:
        """True where this driver can offer ports of its own to other programs."""

    def input_names(self) -> list[str]:
        """Ports of other programs and devices that we could listen to."""

    def output_names(self) -> list[str]:
        """Ports of other programs and devices that we could send to."""

    def open_input(self, name: str, deliver: Deliver, *, virtual: bool) -> Inlet:
        """Open an input: offer our own port `name` (virtual), or connect to the existing one.

        Raises: PortError with what was wanted and what exists.
        """

    def open_output(self, name: str, *, virtual: bool) -> Outlet:
        """Open an output, as `open_input` does."""

    def still(self) -> AbstractContextManager[None]:
        """Within it ports open and close in one go; what comes in is delivered at its end."""

    def close(self) -> None:
        """Close every port and the driver itself. Safe to call twice."""


class PortError(RuntimeError):
    """A port or the MIDI service cannot be reached; the text is one sentence for people."""
