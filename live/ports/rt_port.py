"""Open ports of the system's MIDI service, on python-rtmidi."""

from __future__ import annotations

import gc
import time
from collections.abc import Callable
from contextlib import AbstractContextManager
from typing import Final

from live.clock.units import NS_PER_S
from live.notes.split import is_whole
from live.ports.api import Deliver, PortError
from live.ports.pulse import PULSE, ended
from live.ports.rt_raw import RawIn, RawOut

SETTLE_S: Final = 0.05
"""Wait between detaching callbacks and opening or closing a port. Both hold Python's lock while
they wait for the service, which may wait for a thread of ours that wants the lock: without the
pause they hang under traffic."""

HELD_NS: Final = 4_000_000
"""How long Python's lock is kept for a message to come in: three periods of 64 frames at 48 kHz. If
none comes in that time, traffic is too thin for one to fall into the microseconds of attaching."""

Still = Callable[[], AbstractContextManager[None]]
"""`with still():` no input of the driver calls back; see `RtDriver.still`."""

LINGER_S: Final = 0.1
"""Time a message gets to leave before its port is closed (python-rtmidi documentation)."""

MAX_SENT_BYTES: Final = 16_372
"""Longest message that all services carry whole; the JACK ring drops longer ones silently
(RtMidi 5.0: ring of 16384 bytes; own measurement: 16372 arrive, 17002 do not)."""


class RtInlet:
    """An open input.

    Fields:
        name: full name of our port (virtual) or of the port we listen to.
        pulses: how many of our own pulses came in (see `live.ports.pulse`); they are not delivered.
        ends_due: ends of a system exclusive that we have sent (see `live.ports.pulse.ended`).
        errors: exceptions that `deliver` let through; the library would swallow them unseen.
        last_error: the latest of them in words, or "".
    Thread: the owner's; `deliver` runs on the library's thread.
    """

    def __init__(self, raw: RawIn, deliver: Deliver, still: Still) -> None:
        self.name = ""
        self.pulses = 0
        self.ends_due = 0
        self.errors = 0
        self.last_error = ""
        self._raw: RawIn | None = raw
        self._deliver = deliver
        self._still = still
        self._attached = False
        self._kept: list[object] = []
        raw.ignore_types(sysex=False, timing=False, active_sense=False)

    @property
    def closed(self) -> bool:
        """True once `close` was called."""
        return self._raw is None

    def _arrived(self, event: tuple[list[int], float], _unused: object) -> None:
        """Stamp first, hand over, never raise."""
        at_ns = time.monotonic_ns()
        data = bytes(event[0])
        if data == PULSE:
            self.pulses += 1
            return
        if self.ends_due and (rest := ended(data)) is not None:
            self.ends_due -= 1
            if not rest:
                return
            data = rest
        try:
            self._deliver(at_ns, data)
        except BaseException as error:  # noqa: BLE001  nobody above would hear of it
            self.errors += 1
            self.last_error = repr(error)

    def attach(self) -> None:
        """Deliver what has waited, in order, and from now on at once. Safe to call twice.

        Nothing may give Python's lock away meanwhile (see `RtDriver.still`): a message that comes
        in between the last look and the callback would wait in the library until the next time. So
        where there is traffic the lock is kept until the service's thread must be waiting for it
        with a later message; then what slipped in is fetched before that one.
        """
        raw = self._raw
        if self._attached or raw is None:
            return
        busy = self._empty(raw)
        self._set_callback(raw)
        if busy:
            until_ns = time.monotonic_ns() + HELD_NS
            while time.monotonic_ns() < until_ns:
                pass
            raw.cancel_callback()
            self._empty(raw)
            self._set_callback(raw)
        self._attached = True

    def _empty(self, raw: RawIn) -> bool:
        """Deliver what waits. True if something did."""
        found = False
        while (event := raw.get_message()) is not None:
            found = True
            self._arrived(event, None)
        return found

    def _set_callback(self, raw: RawIn) -> None:
        """Call back from now on.

        The library hands its thread a bare pointer to a tuple that holds our callback, and frees
        the tuple on cancelling while the thread may still wait for Python's lock: under a flood the
        process crashed. The tuple is found by what it holds, and kept.
        """
        callback = self._arrived
        raw.set_callback(callback)
        self._kept += [one for one in gc.get_referrers(callback) if type(one) is tuple]

    def detach(self) -> bool:
        """Let messages wait in the library. Safe to call twice. True if they did not before."""
        if not self._attached or self._raw is None:
            return False
        self._attached = False
        self._raw.cancel_callback()
        return True

    def close(self) -> None:
        """Stop delivering, then close. Safe to call twice."""
        if self._raw is None:
            return
        with self._still():
            raw, self._raw = self._raw, None
            raw.close_port()
            raw.delete()  # once only: touching it again would crash the process


class RtOutlet:
    """An open output.

    Fields:
        name: full name of our port (virtual) or of the port we send to.
        rejected: messages not sent because they are not whole MIDI 1.0 messages or too long.
        errors: messages that the service refused.

    Args:
        raw: the library's object.
        refusal: what the library raises when it cannot send.
        still: keeps the driver's inputs from calling back while the port closes.
    Thread: one sender; closing is the owner's.
    """

    def __init__(self, raw: RawOut, refusal: type[Exception], still: Still) -> None:
        self.name = ""
        self.rejected = 0
        self.errors = 0
        self._raw: RawOut | None = raw
        self._refusal = refusal
        self._still = still
        self._sent_ns = 0

    @property
    def closed(self) -> bool:
        """True once `close` was called."""
        return self._raw is None

    def send(self, data: bytes) -> None:
        """Send one whole message; PortError once the port is closed.

        A JACK server that has died makes this hang: send only while the service is known to live
        (see `live.ports.pulse`).
        """
        if is_whole(data) and len(data) <= MAX_SENT_BYTES:
            self.send_raw(data)
        else:
            self.rejected += 1

    def send_raw(self, data: bytes) -> None:
        """Send 1 to 3 bytes or a system exclusive, unchecked; otherwise as `send`."""
        if self._raw is None:
            raise PortError(f"'{self.name}' is closed.")
        try:
            self._raw.send_message(data)
        except self._refusal:
            self.errors += 1
        self._sent_ns = time.monotonic_ns()

    def close(self) -> None:
        """Close after the last message has had its time to leave. Safe to call twice."""
        if self._raw is None:
            return
        raw, self._raw = self._raw, None
        since_s = (time.monotonic_ns() - self._sent_ns) / NS_PER_S
        if since_s < LINGER_S:
            time.sleep(LINGER_S - since_s)
        with self._still():
            raw.close_port()
            raw.delete()
