"""Open ports of the system's MIDI service, on python-rtmidi."""

from __future__ import annotations

import gc
import time
from typing import Final

from live.clock.units import NS_PER_S
from live.notes.split import is_whole
from live.ports.api import Deliver, PortError
from live.ports.pulse import PULSE
from live.ports.rt_raw import RawIn, RawOut

SETTLE_S: Final = 0.05
"""Wait between detaching a callback and closing its port. Closing holds Python's lock while it
joins a thread that may still want it: without the wait it hangs under traffic."""

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
        errors: exceptions that `deliver` let through; the library would swallow them unseen.
        last_error: the latest of them in words, or "".
    Thread: the owner's; `deliver` runs on the library's thread.
    """

    def __init__(self, raw: RawIn, deliver: Deliver) -> None:
        self.name = ""
        self.pulses = 0
        self.errors = 0
        self.last_error = ""
        self._raw: RawIn | None = raw
        self._deliver = deliver
        self._attached = True
        raw.ignore_types(sysex=False, timing=False, active_sense=False)
        callback = self._arrived
        # Attached before the port is opened: what came earlier would wait in a queue for ever.
        raw.set_callback(callback)
        # The library hands its thread a bare pointer to a tuple that holds our callback, and
        # frees the tuple on cancelling while the thread may still wait for Python's lock: under
        # a flood the process crashed. The tuple is found by what it holds, and kept.
        self._kept = [one for one in gc.get_referrers(callback) if type(one) is tuple]

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
        try:
            self._deliver(at_ns, data)
        except BaseException as error:  # noqa: BLE001  nobody above would hear of it
            self.errors += 1
            self.last_error = repr(error)

    def detach(self) -> None:
        """Stop delivering; the port stays open. Safe to call twice."""
        if self._attached and self._raw is not None:
            self._attached = False
            self._raw.cancel_callback()

    def close(self) -> None:
        """Stop delivering, then close. Safe to call twice."""
        if self._raw is None:
            return
        if self._attached:
            self.detach()
            time.sleep(SETTLE_S)
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
    Thread: one sender; closing is the owner's.
    """

    def __init__(self, raw: RawOut, refusal: type[Exception]) -> None:
        self.name = ""
        self.rejected = 0
        self.errors = 0
        self._raw: RawOut | None = raw
        self._refusal = refusal
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
        raw.close_port()
        raw.delete()
