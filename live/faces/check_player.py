"""The measuring player of `undersong check`: plays into paths side by side and times each note.

`python -m live.faces.check_player JSON` with
`{"seconds": 5.0, "paths": {"daemon": {"to": [CLIENT, PORT], "from": [CLIENT, PORT]}, ...},
"listen": {"answers": [CLIENT, PORT], ...}}`
prints `{"daemon": {"times_ns": [...], "sent": 200, "came_back": 200, "flood": {"sent": [hex, ...],
"came": [...]}}, ..., "answers": [[at_ns, hex], ...], "ended_ns": ...}`. Notes go to the paths in
turn, so that whatever else the machine does disturbs all of them alike; what is listened to is
heard meanwhile. Then each path gets a flood of its own.
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

FLOOD_PER_S: Final = 4000
"""Messages a second of the flood: more than four times what a MIDI cable carries (31,250 baud,
ten bits to a byte: 1,042 messages of three bytes; MIDI 1.0 hardware)."""

_FLOOD_CHANNEL: Final = 9  # drums are never moved
_FLOOD_STEP_S: Final = 0.001
_LONGEST_FLOOD_S: Final = 5.0

_PORTS_APPEAR_S: Final = 30.0
_STRAGGLERS_S: Final = 1.0


@dataclass
class Path:
    """One way from our output to our input, and what was measured on it.

    Fields: messages sent; for each sounding pitch the time it was sent; times measured; what the
    flood sent, and what came of it.
    Thread: `came` on the driver's, the rest on the main thread.
    """

    sent: int = 0
    came_back: int = 0
    pending: dict[int, int] = field(default_factory=dict)
    times_ns: list[int] = field(default_factory=list)
    flood_sent: list[bytes] = field(default_factory=list)
    flood_came: list[bytes] = field(default_factory=list)

    def came(self, at_ns: int, data: bytes) -> None:
        """Note a message that came back."""
        if len(data) != 3 or data[0] & 0xE0 != _NOTE_OFF:  # neither note-off nor note-on
            return
        if data[0] & 0x0F == _FLOOD_CHANNEL:
            self.flood_came.append(data)
            return
        self.came_back += 1
        if data[0] & 0xF0 == _NOTE_ON and data[2] > 0:
            sent_ns = self.pending.pop(data[1], None)
            if sent_ns is not None:
                self.times_ns.append(at_ns - sent_ns)

    def result(self) -> dict[str, object]:
        """For JSON."""
        flood = {"sent": _hex(self.flood_sent), "came": _hex(self.flood_came)}
        counts = {"sent": self.sent, "came_back": self.came_back}
        return {"times_ns": self.times_ns, **counts, "flood": flood}


@dataclass
class Ear:
    """What was heard on a port, as it came. Thread: `came` on the driver's."""

    heard: list[tuple[int, bytes]] = field(default_factory=list)

    def came(self, at_ns: int, data: bytes) -> None:
        """Note a message."""
        self.heard.append((at_ns, data))

    def result(self) -> list[tuple[int, str]]:
        """For JSON."""
        return [(at_ns, data.hex()) for at_ns, data in self.heard]


def _hex(messages: Sequence[bytes]) -> list[str]:
    return [data.hex() for data in messages]


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


def flood(path: Path, send: Callable[[bytes], None], length_s: float) -> None:
    """Send notes and their ends, `FLOOD_PER_S` a second, and wait for the last ones.

    No two messages within 32,512 are alike, so that a lost one can be told from one that moved.
    """
    count = round(length_s * FLOOD_PER_S)
    begun_ns = time.monotonic_ns()
    for number in range(count):
        pitch, velocity = number // 2 % 128, 1 + number // 256 % 127
        status = (_NOTE_OFF if number % 2 else _NOTE_ON) | _FLOOD_CHANNEL
        data = bytes((status, pitch, velocity))
        path.flood_sent.append(data)
        send(data)
        early_s = number / FLOOD_PER_S - (time.monotonic_ns() - begun_ns) / NS_PER_S
        if early_s > _FLOOD_STEP_S:
            time.sleep(early_s)
    end_ns = time.monotonic_ns() + round(_STRAGGLERS_S * NS_PER_S)
    while len(path.flood_came) < count and time.monotonic_ns() < end_ns:
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


def _hear(driver: Driver, came: Deliver, port: Sequence[str]) -> None:
    client, name = port
    full = wait_for_port(driver.input_names, client, name)
    driver.open_input(full, came, virtual=False)


def _open(driver: Driver, path: Path, ends: dict[str, Any]) -> Outlet:
    _hear(driver, path.came, ends["from"])
    return driver.open_output(wait_for_port(driver.output_names, *ends["to"]), virtual=False)


def main(order: dict[str, Any]) -> dict[str, object]:
    """Open the paths, measure, and return the results by path."""
    from live.ports.rt import open_driver

    length_s = float(order["seconds"])
    driver = open_driver(client=CLIENT)
    try:
        paths = {name: Path() for name in order["paths"]}
        ears = {name: Ear() for name in order["listen"]}
        for name, port in order["listen"].items():
            _hear(driver, ears[name].came, port)
        outlets = {name: _open(driver, paths[name], ends) for name, ends in order["paths"].items()}
        time.sleep(0.2)  # the sound server settles after new connections
        lanes = [(paths[name], outlets[name].send) for name in paths]
        measure(lanes, length_s, random.Random(1))
        ended_ns = time.monotonic_ns()
        for path, send in lanes:
            flood(path, send, min(length_s, _LONGEST_FLOOD_S))
        found: dict[str, object] = {name: path.result() for name, path in paths.items()}
        return {**found, **{n: ear.result() for n, ear in ears.items()}, "ended_ns": ended_ns}
    finally:
        driver.close()


if __name__ == "__main__":
    try:
        print(json.dumps(main(json.loads(sys.argv[1]))))
    except PortError as error:
        sys.exit(str(error))
