"""Proof that the MIDI service lives and that no input is stuck, by messages sent round to us.

The system tells nobody when its MIDI service dies: names are still listed, ports still count as
open, and after about two thousand messages the next one to be sent hangs the whole process. And a
device that begins a system exclusive and never ends it mutes a JACK input for good. Both show at
once in a message of our own that does not come back.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, Protocol, cast

from live.clock.units import NS_PER_S
from live.ports.api import Driver, Inlet, Outlet

LOST_AFTER_NS: Final = 3 * NS_PER_S // 10
"""Silence of every input after which the service counts as dead. A living one answers within
a few of its periods; a machine that is busy for longer than this is in trouble itself."""

STUCK_AFTER_NS: Final = 2 * NS_PER_S
"""Silence of one input, while others answer, after which an unended sysex is cut off there."""

AGAIN_AFTER_NS: Final = NS_PER_S // 2
MOST_AGAIN: Final = 8
"""A busy service loses events: a pulse that is not back is sent again after this time, so that two
lost ones are no death; but not often, for a dead service hangs us after two thousand messages."""

PULSE: Final = b"\xfd"
"""An undefined real-time byte: every receiver must ignore it (MIDI 1.0, system real time), and
inside an open system exclusive the service holds it back with the rest."""

END_OF_SYSEX: Final = b"\xf7"


_FEWEST_LOOKS: Final = 3
"""Silence counts only if it was looked for so often: after the whole process has stood still, the
pulse may be back already and its thread not yet have run."""


class PulsedInlet(Inlet, Protocol):
    """An input that counts pulses and does not deliver them."""

    ends_due: int
    """Ends of a system exclusive that we send. One that comes in alone is not to be delivered, and
    from one that ends something our pulses are to be taken out (see `ended`)."""

    @property
    def pulses(self) -> int:
        """Pulses that came in since it was opened."""


class PulseOutlet(Outlet, Protocol):
    """An output that can send what is no whole message."""

    def send_raw(self, data: bytes) -> None:
        """Send the bytes unchecked."""


class _Loop:
    """One way round: out of our own output, into our own input."""

    def __init__(self, inlet: PulsedInlet, outlet: PulseOutlet) -> None:
        self._inlet = inlet
        self._outlet = outlet
        self._answered = inlet.pulses
        self._waiting_since_ns: int | None = None
        self._sent_ns = 0
        self._again = 0
        self._looks = 0

    def beat(self, now_ns: int) -> int:
        """Send a pulse if none is on its way; returns for how long one has been, in ns.

        Never more than a few are on their way, so a dead service cannot make this hang.
        """
        if self._inlet.pulses != self._answered:
            self._answered = self._inlet.pulses
            self._waiting_since_ns = None
        if self._waiting_since_ns is None:
            self._waiting_since_ns = now_ns
            self._looks = self._again = 0
            self._send(now_ns)
        elif now_ns - self._sent_ns >= AGAIN_AFTER_NS and self._again < MOST_AGAIN:
            self._again += 1
            self._send(now_ns)
        self._looks += 1
        return now_ns - self._waiting_since_ns if self._looks >= _FEWEST_LOOKS else 0

    def _send(self, now_ns: int) -> None:
        self._sent_ns = now_ns
        self._outlet.send_raw(PULSE)

    def unstick(self) -> None:
        """End whatever system exclusive is open in the input, and start over.

        None is open if it was the pulse itself that got lost on a busy machine.
        """
        self._inlet.ends_due += 1
        self._outlet.send_raw(END_OF_SYSEX)
        self._waiting_since_ns = None


class Pulse:
    """Watches the service through some of our own inputs.

    Args:
        driver: where the inputs were opened; must have virtual ports. The drivers of this
            package have what is needed beyond the protocols.
        inlets: one or more of our own inputs; with two, a stuck one can be told from a dead
            service.
    Raises: PortError if a way round cannot be opened.
    Thread: one owner, the one that sends.
    """

    def __init__(self, driver: Driver, inlets: Sequence[Inlet]) -> None:
        self._loops = [_loop(driver, inlet) for inlet in inlets]
        self.unstuck = 0
        """How often an unended system exclusive was cut off."""

    def lives(self, now_ns: int) -> bool:
        """Send pulses and see whether they come back. Call it every 20 to 100 ms.

        Args:
            now_ns: monotonic clock.
        Returns: False once every input has been silent for `LOST_AFTER_NS`. Then send nothing
            any more and close the driver; only a new driver can reach the service again.
        """
        silent_ns = [loop.beat(now_ns) for loop in self._loops]
        if min(silent_ns) >= LOST_AFTER_NS:
            return False
        for loop, silence_ns in zip(self._loops, silent_ns, strict=True):
            if silence_ns >= STUCK_AFTER_NS:
                loop.unstick()
                self.unstuck += 1
        return True


def _loop(driver: Driver, inlet: Inlet) -> _Loop:
    """Join an output of ours to our own input."""
    outlet = driver.open_output(inlet.name, virtual=False)
    return _Loop(cast("PulsedInlet", inlet), cast("PulseOutlet", outlet))


def ended(data: bytes) -> bytes | None:
    """What is to be delivered of a message that came in while an end of ours was due.

    Returns: b"" for nothing, None if this is not that end.
    """
    if not data.endswith(END_OF_SYSEX):
        return None
    return b"" if data == END_OF_SYSEX else data.replace(PULSE, b"")
