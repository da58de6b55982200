"""The measuring player of `undersong check`: plays into paths side by side and times each note.

`python -m live.faces.check_player JSON` with
`{"seconds": 5.0, "paths": {"daemon": {"to": [CLIENT, PORT], "from": [CLIENT, PORT]}, ...}}`
prints `{"daemon": {"times_ns": [...], "sent": 200, "came_back": 200}, ...}`. Notes go to the paths
in turn, so that whatever else the machine does disturbs all of them alike.
"""

from __future__ import annotations

import json
import random
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from live.clock.units import NS_PER_S
from live.ports.api import Deliver, Driver, Outlet, PortError

CLIENT: Final = "undersong measuring player"
_NOTES: Final = (62, 64, 65, 67, 69, 70, 72, 74, 76, 77, 79, 81)  # D minor: nothing is moved
_NOTE_ON: Final = 0x90
_NOTE_OFF: Final = 0x80
_WAIT_S: Final = (0.004, 0.009)
"""Pause after each message, by chance, so that notes do not keep step with the sound server."""

_PORTS_APPEAR_S: Final = 10.0
_STRAGGLERS_S: Final = 1.0


@dataclass
class Path:
    """One way from our output to our input, and what was measured on it.

    Fields: messages sent; for each sounding pitch the time it was sent; times measured.
    Thread: `came` on the driver's, the rest on the main thread.
    """

    sent: int = 0
    came_back: int = 0
    pending: dict[int, int] = field(default_factory=dict)
    times_ns: list[int] = field(default_factory=list)

    def came(self, at_ns: int, data: bytes) -> None:
        """Note a message that came back."""
        if len(data) != 3 or data[0] & 0xE0 != _NOTE_OFF:  # neither note-off nor note-on
            return
        self.came_back += 1
        if data[0] & 0xF0 == _NOTE_ON and data[2] > 0:
            sent_ns = self.pending.pop(data[1], None)
            if sent_ns is not None:
                self.times_ns.append(at_ns - sent_ns)

    def result(self) -> dict[str, object]:
        """For JSON."""
        return {"times_ns": self.times_ns, "sent": self.sent, "came_back": self.came_back}


def measure(
    lanes: Sequence[tuple[Path, Callable[[bytes], None]]],
    length_s: float,
    chance: random.Random,
) -> None:
    """Play notes into each path in turn for `length_s` seconds, then wait for the last ones."""
    end_ns = time.monotonic_ns() + round(length_s * NS_PER_S)
    number = 0
    while time.monotonic_ns() < end_ns:
        note = _NOTES[number % len(_NOTES)]
        number += 1
        for path, send in lanes:
            path.sent += 2
            path.pending[note] = time.monotonic_ns()
            send(bytes((_NOTE_ON, note, 80)))
            time.sleep(chance.uniform(*_WAIT_S))
            send(bytes((_NOTE_OFF, note, 64)))
            time.sleep(chance.uniform(*_WAIT_S))
    end_ns = time.monotonic_ns() + round(_STRAGGLERS_S * NS_PER_S)
    while any(p.came_back < p.sent for p, _ in lanes) and time.monotonic_ns() < end_ns:
        time.sleep(0.01)


def wait_for_port(names: Callable[[], list[str]], client: str, port: str) -> str:
    """The full name of a client's port, once it is there.

    Raises: PortError if it does not appear.
    """
    for _ in range(round(_PORTS_APPEAR_S / 0.1)):
        for name in names():
            if name.startswith(client) and port in name.removeprefix(client):
                return name
        time.sleep(0.1)
    raise PortError(f"The port '{port}' of {client} did not appear.")


def _open(driver: Driver, path: Path, ends: dict[str, Any]) -> Outlet:
    came: Deliver = path.came
    driver.open_input(wait_for_port(driver.input_names, *ends["from"]), came, virtual=False)
    return driver.open_output(wait_for_port(driver.output_names, *ends["to"]), virtual=False)


def main(order: dict[str, Any]) -> dict[str, object]:
    """Open the paths, measure, and return the results by path."""
    from live.ports.rt import open_driver

    driver = open_driver(client=CLIENT)
    try:
        paths = {name: Path() for name in order["paths"]}
        outlets = {name: _open(driver, paths[name], ends) for name, ends in order["paths"].items()}
        time.sleep(0.2)  # the sound server settles after new connections
        lanes = [(paths[name], outlets[name].send) for name in paths]
        measure(lanes, float(order["seconds"]), random.Random(1))
        return {name: path.result() for name, path in paths.items()}
    finally:
        driver.close()


if __name__ == "__main__":
    try:
        print(json.dumps(main(json.loads(sys.argv[1]))))
    except PortError as error:
        sys.exit(str(error))
