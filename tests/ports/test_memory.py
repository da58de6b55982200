"""The hub in memory; its ports and its driver are in test_contract.py."""

from __future__ import annotations

import pytest

from live.ports.api import PortError
from live.ports.memory import MemoryDriver, MemoryHub

NOTE_ON = b"\x90\x3c\x40"


@pytest.fixture
def hub(clock) -> MemoryHub:
    return MemoryHub(clock)


def test_stamps_are_the_hand_driven_clocks(hub, clock):
    heard: list[tuple[int, bytes]] = []
    ours, other = MemoryDriver(hub), MemoryDriver(hub, "keyboard")
    inlet = ours.open_input(
        "keys in", lambda at_ns, data: heard.append((at_ns, data)), virtual=True
    )
    keys = other.open_output("out", virtual=True)
    hub.connect(keys.name, inlet.name)
    keys.send(NOTE_ON)
    clock.advance(7_000_000)
    keys.send(NOTE_ON)
    first_ns, second_ns = (at_ns for at_ns, _ in heard)
    assert second_ns - first_ns == 7_000_000
    assert second_ns == clock.now_ns()


def test_parting_and_unplugging(hub):
    heard: list[bytes] = []
    ours, other = MemoryDriver(hub), MemoryDriver(hub, "keyboard")
    inlet = ours.open_input("keys in", lambda _, data: heard.append(data), virtual=True)
    keys = other.open_output("out", virtual=True)
    hub.connect(keys.name, inlet.name)
    hub.disconnect(keys.name, inlet.name)
    hub.disconnect(keys.name, "nobody")
    keys.send(NOTE_ON)
    hub.connect(keys.name, inlet.name)
    hub.remove(keys.name)
    hub.remove(keys.name)
    keys.send(NOTE_ON)
    assert heard == []
    assert ours.input_names() == []


@pytest.mark.parametrize("pair", [("nobody", "undersong keys in:keys in"), ("x", "y")])
def test_joining_what_is_not_there_is_refused(hub, pair):
    MemoryDriver(hub).open_input("keys in", lambda at_ns, data: None, virtual=True)
    with pytest.raises(PortError, match="one of them is missing"):
        hub.connect(*pair)


def test_junk_can_be_sent_as_a_bad_device_sends_it(hub):
    heard: list[bytes] = []
    ours, other = MemoryDriver(hub), MemoryDriver(hub, "keyboard")
    inlet = ours.open_input("keys in", lambda _, data: heard.append(data), virtual=True)
    keys = other.open_output("out", virtual=True)
    hub.connect(keys.name, inlet.name)
    keys.send_raw(b"\xf0\x01")
    assert heard == [b"\xf0\x01"]
