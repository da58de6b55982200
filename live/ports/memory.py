"""Ports in memory, with the contract of real ones and a clock that may be driven by hand."""

from __future__ import annotations

from contextlib import AbstractContextManager, nullcontext

from live.clock.clock import Clock
from live.notes.split import is_whole
from live.ports.api import Deliver, PortError
from live.ports.match import client_name, match_port, own_port
from live.ports.pulse import PULSE, ended


class MemoryHub:
    """The system that drivers in memory share: it names ports and carries messages.

    A message is delivered before `send` returns, stamped with the hub's clock.

    Args:
        clock: gives the stamps.
    Thread: one.
    """

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._inputs: dict[str, MemoryInlet] = {}
        self._outputs: dict[str, set[str]] = {}

    @property
    def input_names(self) -> list[str]:
        """Every port that can be sent to."""
        return list(self._inputs)

    @property
    def output_names(self) -> list[str]:
        """Every port that can be listened to."""
        return list(self._outputs)

    def connect(self, output: str, input_: str) -> None:
        """Join two ports by their full names; PortError if one is missing."""
        if output not in self._outputs or input_ not in self._inputs:
            raise PortError(f"Cannot join '{output}' to '{input_}': one of them is missing.")
        self._outputs[output].add(input_)

    def disconnect(self, output: str, input_: str) -> None:
        """Part two ports; no error if they were not joined."""
        self._outputs.get(output, set()).discard(input_)

    def carry(self, output: str, data: bytes) -> None:
        """Deliver a message from `output` to every input it is joined to."""
        for name in sorted(self._outputs.get(output, ())):
            inlet = self._inputs.get(name)
            if inlet is not None:
                inlet.take(self._clock.now_ns(), data)

    def full_name(self, client: str, port: str) -> str:
        """A name nobody has; as JACK does, a client that exists gets `-01` and so on."""
        taken = {*self._inputs, *self._outputs}
        candidates = [f"{client}:{port}", *(f"{client}-{n:02}:{port}" for n in range(1, 100))]
        return next(name for name in candidates if name not in taken)

    def add_input(self, inlet: MemoryInlet) -> None:
        """Show an input to everybody."""
        self._inputs[inlet.own_name] = inlet

    def add_output(self, name: str) -> None:
        """Show an output to everybody."""
        self._outputs[name] = set()

    def remove(self, name: str) -> None:
        """Take a port away, as when its device is unplugged; no error if it is gone."""
        self._inputs.pop(name, None)
        self._outputs.pop(name, None)
        for joined in self._outputs.values():
            joined.discard(name)


class MemoryInlet:
    """An input in memory.

    Fields:
        pulses: how many of our own pulses came in; they are not delivered.
        errors: exceptions that `deliver` let through.
    """

    def __init__(self, hub: MemoryHub, name: str, own_name: str, deliver: Deliver) -> None:
        self._hub = hub
        self.name = name
        self.own_name = own_name
        self.pulses = 0
        self.ends_due = 0
        self.errors = 0
        self._deliver: Deliver | None = deliver

    def take(self, at_ns: int, data: bytes) -> None:
        """Called by the hub with each message."""
        if self._deliver is None:
            return
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
        except Exception:  # noqa: BLE001  the contract: counted, and the next message comes
            self.errors += 1

    def close(self) -> None:
        """Stop delivering and leave the hub."""
        self._deliver = None
        self._hub.remove(self.own_name)


class MemoryOutlet:
    """An output in memory.

    Fields:
        rejected: messages not sent because they were not whole.
    """

    def __init__(self, hub: MemoryHub, name: str, own_name: str) -> None:
        self._hub = hub
        self.name = name
        self.own_name = own_name
        self.rejected = 0
        self._closed = False

    def send(self, data: bytes) -> None:
        """Deliver to everything joined; PortError once the port is closed."""
        if is_whole(data):
            self.send_raw(data)
        else:
            self.rejected += 1

    def send_raw(self, data: bytes) -> None:
        """Deliver the bytes unchecked; otherwise as `send`."""
        if self._closed:
            raise PortError(f"'{self.name}' is closed.")
        self._hub.carry(self.own_name, data)

    def close(self) -> None:
        """Leave the hub."""
        self._closed = True
        self._hub.remove(self.own_name)


class MemoryDriver:
    """A driver in memory.

    Args:
        hub: the system it belongs to.
        client: the name under which its ports appear.
        has_virtual_ports: False to act like a system without them.
    Thread: one.
    """

    def __init__(
        self, hub: MemoryHub, client: str = "undersong", *, has_virtual_ports: bool = True
    ) -> None:
        self._hub = hub
        self._client = client
        self._open: list[MemoryInlet | MemoryOutlet] = []
        self._closed = False
        self.name = "memory"
        self.has_virtual_ports = has_virtual_ports

    def input_names(self) -> list[str]:
        """Outputs of others, which we could listen to."""
        return self._of_others(self._hub.output_names)

    def output_names(self) -> list[str]:
        """Inputs of others, which we could send to."""
        return self._of_others(self._hub.input_names)

    def _of_others(self, names: list[str]) -> list[str]:
        """Those that are not ours."""
        self._check_open()
        return [name for name in names if not own_port(name, self._client)]

    def _check_open(self) -> None:
        if self._closed:
            raise PortError("The MIDI driver is closed.")

    def still(self) -> AbstractContextManager[None]:
        """Nothing comes in here while a port opens."""
        return nullcontext()

    def open_input(self, name: str, deliver: Deliver, *, virtual: bool) -> MemoryInlet:
        """Offer our own input, or connect to an existing output."""
        other = self._other(name, self._hub.output_names, self.input_names(), virtual=virtual)
        own = self._own_name(name, "in", virtual=virtual)
        inlet = MemoryInlet(self._hub, other or own, own, deliver)
        self._hub.add_input(inlet)
        if other is not None:
            self._hub.connect(other, own)
        self._open.append(inlet)
        return inlet

    def open_output(self, name: str, *, virtual: bool) -> MemoryOutlet:
        """Offer our own output, or connect to an existing input."""
        other = self._other(name, self._hub.input_names, self.output_names(), virtual=virtual)
        own = self._own_name(name, "out", virtual=virtual)
        outlet = MemoryOutlet(self._hub, other or own, own)
        self._hub.add_output(own)
        if other is not None:
            self._hub.connect(own, other)
        self._open.append(outlet)
        return outlet

    def _own_name(self, name: str, direction: str, *, virtual: bool) -> str:
        """Full name of the port that we add to the hub."""
        client = client_name(self._client, name if virtual else "link")
        return self._hub.full_name(client, name if virtual else direction)

    def _other(
        self, name: str, every: list[str], others: list[str], *, virtual: bool
    ) -> str | None:
        """The existing port meant by `name`, or None for a port of our own."""
        self._check_open()
        if virtual and not self.has_virtual_ports:
            raise PortError(f"'{name}' cannot be offered: this system has no virtual ports.")
        if virtual:
            return None
        return name if name in every else match_port(name, others)

    def close(self) -> None:
        """Close every port."""
        self._closed = True
        for port in self._open:
            port.close()
        self._open.clear()
