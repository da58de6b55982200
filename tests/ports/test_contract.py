"""One contract for every kind of port: in memory, and on a real JACK server."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from live.clock.manual import ManualClock
from live.ports.api import Driver, Inlet, Outlet, PortError
from live.ports.memory import MemoryDriver, MemoryHub
from live.ports.pulse import Pulse
from live.ports.rt import open_driver
from tests.processes import wait_until

NOTE_ON = b"\x90\x3c\x40"
NOTE_OFF = b"\x80\x3c\x40"
CLOCK = b"\xf8"


class Rig:
    """Two programs on one MIDI service: ours, and another one with a keyboard and a synth."""

    def __init__(self, kind: str) -> None:
        self.kind = kind
        self.heard: list[tuple[int, bytes]] = []
        if kind == "memory":
            self.clock = ManualClock(start_ns=5_000_000)
            self.hub = MemoryHub(self.clock)
            self.ours: Driver = MemoryDriver(self.hub)
            self.other: Driver = MemoryDriver(self.hub, "other")
        else:
            self.ours = open_driver("jack")
            self.other = open_driver("jack", "other")

    def deliver(self, at_ns: int, data: bytes) -> None:
        self.heard.append((at_ns, data))

    def now_ns(self) -> int:
        return self.clock.now_ns() if self.kind == "memory" else time.monotonic_ns()

    def connect(self, source: str, sink: str) -> None:
        if self.kind == "memory":
            self.hub.connect(source, sink)
        else:
            subprocess.run(["jack_connect", source, sink], check=True, timeout=10)

    def wait(self, count: int) -> list[bytes]:
        wait_until(lambda: len(self.heard) >= count, f"{count} messages, have {self.heard}")
        return [data for _, data in self.heard]

    def settle(self) -> list[bytes]:
        """Everything heard after time enough for what should not come."""
        if self.kind != "memory":
            time.sleep(0.1)
        return [data for _, data in self.heard]

    def close(self) -> None:
        self.ours.close()
        self.other.close()


@pytest.fixture(params=["memory", pytest.param("jack", marks=pytest.mark.jack)])
def rig(request: pytest.FixtureRequest) -> Iterator[Rig]:
    if request.param == "jack":
        request.getfixturevalue("jack_server")
    one = Rig(request.param)
    yield one
    one.close()


def errors_of(port: Inlet | Outlet, name: str = "errors") -> int:
    return int(getattr(port, name))


def test_our_ports_are_called_as_asked_under_a_client_that_begins_with_our_name(rig):
    inlet = rig.ours.open_input("keys in", rig.deliver, virtual=True)
    outlet = rig.ours.open_output("through", virtual=True)
    assert inlet.name == "undersong keys in:keys in"
    assert outlet.name == "undersong through:through"
    assert inlet.name in rig.other.output_names()
    assert outlet.name in rig.other.input_names()


def test_a_second_run_gets_other_names_and_knows_them(rig):
    rig.ours.open_input("keys in", rig.deliver, virtual=True)
    if rig.kind == "memory":
        second: Driver = MemoryDriver(rig.hub)
    else:
        second = open_driver("jack")
    try:
        name = second.open_input("keys in", rig.deliver, virtual=True).name
        assert name == "undersong keys in-01:keys in"
        assert name in rig.other.output_names()
    finally:
        second.close()


def test_what_comes_in_is_delivered_raw_in_order_and_stamped_on_arrival(rig):
    inlet = rig.ours.open_input("keys in", rig.deliver, virtual=True)
    sender = rig.other.open_output("out", virtual=True)
    rig.connect(sender.name, inlet.name)
    messages = [NOTE_ON, CLOCK, b"\xfe", b"\xf1\x05", b"\xf0\x7d\x01\xf7", b"\xc0\x05", NOTE_OFF]
    before_ns = rig.now_ns()
    for message in messages:
        sender.send(message)
    assert rig.wait(len(messages)) == messages
    stamps = [at_ns for at_ns, _ in rig.heard]
    assert before_ns <= stamps[0]
    assert stamps == sorted(stamps)
    assert stamps[-1] <= rig.now_ns()
    assert all(type(data) is bytes for _, data in rig.heard)


def test_one_output_reaches_everything_that_is_joined_to_it(rig):
    through = rig.ours.open_output("through", virtual=True)
    first: list[bytes] = []
    second: list[bytes] = []
    for name, heard in (("a", first), ("b", second)):
        inlet = rig.other.open_input(name, lambda _, data, to=heard: to.append(data), virtual=True)
        rig.connect(through.name, inlet.name)
    through.send(NOTE_ON)
    wait_until(lambda: first and second, "both to hear it")
    assert first == second == [NOTE_ON]


def test_existing_ports_are_joined_by_part_of_their_name(rig):
    keyboard = rig.other.open_output("keyboard port 1", virtual=True)
    rig.other.open_output("keyboard port 10", virtual=True)
    inlet = rig.ours.open_input("keyboard port 1", rig.deliver, virtual=False)
    assert inlet.name == keyboard.name
    synth_heard: list[bytes] = []
    synth = rig.other.open_input("synth", lambda _, data: synth_heard.append(data), virtual=True)
    outlet = rig.ours.open_output("SYNTH", virtual=False)
    assert outlet.name == synth.name
    keyboard.send(NOTE_ON)
    outlet.send(NOTE_OFF)
    assert rig.wait(1) == [NOTE_ON]
    wait_until(lambda: synth_heard, "the synth")
    assert synth_heard == [NOTE_OFF]


def test_a_missing_port_is_refused_with_the_names_there_are(rig):
    rig.other.open_output("keyboard", virtual=True)
    with pytest.raises(PortError, match=r"No port fits 'organ'.*other keyboard:keyboard"):
        rig.ours.open_input("organ", rig.deliver, virtual=False)
    with pytest.raises(PortError, match="No port fits 'organ'"):
        rig.ours.open_output("organ", virtual=False)


def test_an_ambiguous_name_is_refused(rig):
    rig.other.open_output("pad a", virtual=True)
    rig.other.open_output("pad b", virtual=True)
    with pytest.raises(PortError, match="more than one port"):
        rig.ours.open_input("pad", rig.deliver, virtual=False)


def test_own_ports_are_not_listed_and_not_joined_by_a_part_of_their_name(rig):
    inlet = rig.ours.open_input("keys in", rig.deliver, virtual=True)
    assert not [name for name in rig.ours.output_names() if "undersong" in name]
    assert not [name for name in rig.ours.input_names() if "undersong" in name]
    with pytest.raises(PortError):
        rig.ours.open_output("keys in", virtual=False)
    # Only the exact full name reaches it: that is how a program proves that its service lives.
    pulse = rig.ours.open_output(inlet.name, virtual=False)
    pulse.send(CLOCK)
    assert rig.wait(1) == [CLOCK]


def test_a_pulse_comes_round_and_is_not_delivered(rig):
    inlet = rig.ours.open_input("keys in", rig.deliver, virtual=True)
    pulse = Pulse(rig.ours, [inlet])
    for count in (1, 2, 3):
        assert pulse.lives(rig.now_ns())
        wait_until(lambda count=count: inlet.pulses == count, "the pulse")
    assert rig.settle() == []


def test_an_exception_in_deliver_is_counted_and_the_next_message_comes(rig):
    heard: list[bytes] = []

    def fragile(_at_ns: int, data: bytes) -> None:
        if data == NOTE_ON:
            raise RuntimeError("dropped the cup")
        heard.append(data)

    inlet = rig.ours.open_input("keys in", fragile, virtual=True)
    sender = rig.other.open_output("out", virtual=True)
    rig.connect(sender.name, inlet.name)
    for message in (NOTE_ON, NOTE_ON, NOTE_OFF):
        sender.send(message)
    wait_until(lambda: heard, "the message after the exceptions")
    assert heard == [NOTE_OFF]
    assert errors_of(inlet) == 2


@pytest.mark.parametrize(
    "junk",
    [b"", b"\x3c\x40", b"\x90", b"\x90\x3c", b"\x90\xc8\x40", NOTE_ON + NOTE_OFF, b"\xf0\x01"],
    ids=bytes.hex,
)
def test_nothing_but_whole_messages_is_sent(rig, junk):
    through = rig.ours.open_output("through", virtual=True)
    inlet = rig.other.open_input("in", rig.deliver, virtual=True)
    rig.connect(through.name, inlet.name)
    through.send(junk)
    through.send(NOTE_ON)
    rig.wait(1)
    assert rig.settle() == [NOTE_ON]
    assert errors_of(through, "rejected") == 1


def test_a_closed_input_delivers_no_more_and_closes_twice(rig):
    inlet = rig.ours.open_input("keys in", rig.deliver, virtual=True)
    sender = rig.other.open_output("out", virtual=True)
    rig.connect(sender.name, inlet.name)
    sender.send(NOTE_ON)
    rig.wait(1)
    inlet.close()
    inlet.close()
    sender.send(NOTE_OFF)
    assert rig.settle() == [NOTE_ON]
    assert inlet.name not in rig.other.output_names()


def test_a_closed_output_sends_no_more_and_closes_twice(rig):
    through = rig.ours.open_output("through", virtual=True)
    through.close()
    through.close()
    with pytest.raises(PortError, match="closed"):
        through.send(NOTE_ON)
    assert through.name not in rig.other.input_names()


@pytest.mark.parametrize("attempt", range(5))
def test_what_was_sent_before_closing_arrives(rig, attempt):
    through = rig.ours.open_output("through", virtual=True)
    inlet = rig.other.open_input("in", rig.deliver, virtual=True)
    rig.connect(through.name, inlet.name)
    through.send(NOTE_ON)
    through.send(NOTE_OFF)
    rig.ours.close()
    assert rig.wait(2) == [NOTE_ON, NOTE_OFF]


def test_a_closed_driver_takes_its_ports_along_and_says_so(rig):
    inlet = rig.ours.open_input("keys in", rig.deliver, virtual=True)
    outlet = rig.ours.open_output("through", virtual=True)
    rig.ours.close()
    rig.ours.close()
    assert inlet.name not in rig.other.output_names()
    assert outlet.name not in rig.other.input_names()
    for use in (
        lambda: rig.ours.open_input("x", rig.deliver, virtual=True),
        lambda: rig.ours.open_output("x", virtual=True),
        rig.ours.input_names,
        rig.ours.output_names,
    ):
        with pytest.raises(PortError, match="driver is closed"):
            use()


def test_names_keep_letters_of_any_language(rig):
    inlet = rig.ours.open_input("Ünï日:pört", rig.deliver, virtual=True)
    assert inlet.name == "undersong Ünï日:pört:Ünï日:pört"
    assert inlet.name in rig.other.output_names()


@pytest.mark.parametrize(("letters", "fits"), [(53, True), (54, False), (300, False)])
def test_a_client_name_longer_than_63_bytes_is_refused(rig, letters, fits):
    # "undersong " is 10 bytes; 63 is JACK's limit (jack_client_name_size, measured on 1.9.21).
    if fits:
        assert "k" * letters in rig.ours.open_output("k" * letters, virtual=True).name
    else:
        with pytest.raises(PortError, match="63 bytes at most"):
            rig.ours.open_output("k" * letters, virtual=True)


def test_the_driver_names_its_service(rig):
    assert rig.ours.name == rig.kind
    assert rig.ours.has_virtual_ports


def test_without_virtual_ports_our_own_are_refused(clock):
    driver = MemoryDriver(MemoryHub(clock), has_virtual_ports=False)
    with pytest.raises(PortError, match="no virtual ports"):
        driver.open_input("keys in", lambda at_ns, data: None, virtual=True)
    with pytest.raises(PortError, match="no virtual ports"):
        driver.open_output("through", virtual=True)


def test_the_drivers_fit_the_protocol_by_type(run_command, tmp_path):
    source = tmp_path / "fits.py"
    source.write_text(
        "from live.clock.manual import ManualClock\n"
        "from live.ports.api import Driver\n"
        "from live.ports.memory import MemoryDriver, MemoryHub\n"
        "from live.ports.rt import open_driver\n"
        "drivers: list[Driver] = [MemoryDriver(MemoryHub(ManualClock())), open_driver()]\n"
    )
    root = Path(__file__).resolve().parents[2]
    command = [sys.executable, "-m", "mypy", str(source)]
    ended = run_command(command, timeout_s=120, cwd=str(root))
    assert ended.status == 0, ended.out
