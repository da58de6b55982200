"""The clock output: what the leader says becomes records, and our own clock is known again."""

from __future__ import annotations

from typing import Final

from live.clock.leader import PULSE, ClockLeader, Sent
from live.clock.transport import Transport
from live.notes.events import CLOCK_OUT, Output
from live.notes.record import Record

ECHO_NS: Final = 100_000_000
"""What we sent comes back within this time, if it comes back (own choice)."""


class ClockOut:
    """Leads others by MIDI clock, if switched on.

    Args:
        transport: where we are.
    Thread: one owner (the engine's).
    """

    def __init__(self, transport: Transport) -> None:
        self.on = False
        self._transport = transport
        self._leader = ClockLeader(transport)
        self._sent_ns: dict[bytes, int] = {}
        self._hears_itself = False
        self._first_ns = self._latest_ns = 0  # pulses that came in since we began to follow
        self._began_by_echo = False

    def switch(self, *, on: bool) -> None:
        """Lead or do not."""
        self.on = on
        if not on:
            self._leader.silence()
            self._hears_itself = False

    def due_ns(self) -> int | None:
        """When something is due, 0 = at once; None = nothing."""
        return self._leader.due_ns() if self.on else None

    def run(self, now_ns: int, out: list[Output]) -> None:
        """Send what is due."""
        if self.on:
            self._tell(self._leader.take(now_ns), out)

    def started(self, at_ns: int, out: list[Output]) -> None:
        """The transport plays; we lead unless it follows."""
        if self.on and not self._transport.following:
            self._tell(self._leader.start(at_ns), out)

    def stopped(self, at_ns: int, out: list[Output]) -> None:
        """The transport has stopped."""
        self._tell(self._leader.stop(at_ns), out)

    # Our own clock, should it come back

    def is_echo(self, at_ns: int, data: bytes) -> bool:
        """True for a message on the clock input that is our own."""
        if not self.on:
            return False
        if data != PULSE:
            is_ours = at_ns - self._sent_ns.get(data, -ECHO_NS) < ECHO_NS
            self._hears_itself &= is_ours
            return is_ours
        if not self._transport.following:
            self._first_ns = at_ns
            self._began_by_echo = at_ns - self._sent_ns.get(PULSE, -ECHO_NS) < ECHO_NS
        self._latest_ns = at_ns
        return self._hears_itself

    def was_echo(self) -> bool:
        """A clock we followed while we stood still has gone. True if it was our own.

        It is, when it ended as we fell silent to follow it.
        """
        short = self._latest_ns - self._first_ns < ECHO_NS
        self._hears_itself |= self.on and self._began_by_echo and short
        return self._hears_itself

    def _tell(self, messages: list[Sent], out: list[Output]) -> None:
        for at_ns, data in messages:
            self._sent_ns[data] = at_ns
            out.append(Record(at_ns, "pulse" if data == PULSE else "out", CLOCK_OUT, data))
