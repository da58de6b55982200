"""Real ports beyond the contract: choosing a service, floods, death of the server, odd names."""

from __future__ import annotations

import sys
import time
from pathlib import Path
from typing import ClassVar

import pytest
import rtmidi

from live.notes.split import Cleaner
from live.ports import rt
from live.ports.api import PortError
from live.ports.probe import PROBE_LIMIT_S
from live.ports.pulse import Pulse
from live.ports.rt import RtDriver, open_driver
from live.ports.rt_port import MAX_SENT_BYTES
from live.theory.errors import FieldError
from tests.jackworld import JackServer, connect, ports
from tests.processes import run, wait_until

ROOT = Path(__file__).resolve().parents[2]
NOTE_ON = b"\x90\x3c\x40"
NOTE_OFF = b"\x80\x3c\x40"


@pytest.fixture
def driver(jack_server):
    one = open_driver("jack")
    yield one
    one.close()


def nobody(at_ns: int, data: bytes) -> None:
    """Hears nothing."""


# Choosing a service


@pytest.mark.parametrize("client", ["", "u" * 49, "ü" * 25])
def test_a_client_name_must_fit(client):
    with pytest.raises(FieldError, match=r"client name.*1 to 48 bytes"):
        open_driver("jack", client)


def test_an_unknown_service_is_refused_with_those_there_are():
    with pytest.raises(FieldError, match=r"MIDI service.*auto.*jack"):
        open_driver("carrier pigeon")


def test_without_any_service_the_error_names_each_and_nothing_is_printed(run_command):
    # No JACK server of that name, and no /dev/snd/seq in a container.
    code = (
        "from live.ports.api import PortError\nfrom live.ports.rt import open_driver\n"
        "try:\n    open_driver()\nexcept PortError as error:\n    print(error)"
    )
    ended = run_command([sys.executable, "-c", code], env={"JACK_DEFAULT_SERVER": "nowhere"})
    if Path("/dev/snd/seq").exists():
        pytest.fail("this machine has ALSA: the test needs a world without it")
    assert ended.status == 0
    assert ended.err == ""
    assert ended.out.startswith("No MIDI service can be reached (JACK: ")
    assert "ALSA: " in ended.out
    assert len(ended.out.splitlines()) == 1


@pytest.mark.jack
def test_jack_is_taken_first_when_its_server_answers(jack_server):
    one = open_driver("auto")
    assert one.name == "jack"
    assert one.refused == {}
    one.close()


@pytest.mark.jack
def test_a_server_that_stands_still_is_given_up(other_jack, run_command):
    server = other_jack()
    server.send_signal(19)  # SIGSTOP
    code = (
        "from live.ports.api import PortError\nfrom live.ports.rt import open_driver\n"
        "try:\n    open_driver('jack')\nexcept PortError as error:\n    print(error)"
    )
    ended = run_command([sys.executable, "-c", code], timeout_s=40, env=server.env)
    server.send_signal(18)  # SIGCONT
    assert f"JACK: no answer within {PROBE_LIMIT_S:g} s" in ended.out


def test_a_service_that_fails_after_the_probe_is_told_too(monkeypatch):
    def refuse(*_: object) -> None:
        raise rtmidi.SystemError("out of clients")

    monkeypatch.setattr(rt, "why_not", lambda api, client: "")
    monkeypatch.setattr(rt.rtmidi, "MidiIn", refuse)
    with pytest.raises(PortError, match=r"JACK: out of clients; ALSA: out of clients"):
        open_driver()


# Floods, leaks, long messages


@pytest.mark.jack
def test_closing_under_a_flood_does_not_hang(driver, player):
    # Closing joins a thread that wants Python's lock; the hang guard kills the run if it stays.
    # Or the library's thread meets a callback that is gone: then the process dies (own measurement,
    # before the inlet kept what the library frees: a crash within a minute of this).
    for _ in range(20):
        heard: list[bytes] = []
        inlet = driver.open_input("keys in", lambda _, data, h=heard: h.append(data), virtual=True)
        connect(player.port("out"), inlet.name)
        player.play([(n / 8000, b"\xf8") for n in range(2400)], start_in_s=0)
        wait_until(lambda heard=heard: len(heard) > 10, "the flood")
        assert len(inlet._kept) == 1, "the library keeps its callback in another way now"
        inlet.close()


@pytest.mark.jack
@pytest.mark.parametrize("joined", [True, False])
def test_opening_under_a_flood_does_not_hang_and_loses_nothing(driver, player, joined):
    # The server waits for a callback that wants Python's lock, which is held while a port opens.
    heard: list[bytes] = []
    inlet = driver.open_input("keys in", lambda _, data: heard.append(data), virtual=True)
    connect(player.port("out"), inlet.name)
    script = [bytes((0x90, n % 128, 1 + n // 128)) for n in range(4000)]
    player.play([(n / 4000, data) for n, data in enumerate(script)], start_in_s=0)
    for _ in range(4):
        before = len(heard)
        wait_until(lambda before=before: len(heard) > min(before, 3999), "the flood")
        if joined:
            driver.open_input(player.port("out"), nobody, virtual=False)
        else:
            driver.open_input("clock in", nobody, virtual=True)
            driver.open_output("through", virtual=True).close()
    player.wait_until_sent()
    wait_until(lambda: len(heard) >= len(script), "the last of them")
    assert heard == script


@pytest.mark.jack
def test_opening_and_closing_leaves_nothing_behind(driver):
    def once():
        driver.open_input("keys in", nobody, virtual=True).close()
        driver.open_output("through", virtual=True).close()

    def state():
        return ports(), count_of("fd"), count_of("task")

    once()
    before = state()
    for _ in range(30):
        once()
    wait_until(lambda: state() == before, f"ports, files and threads as before: {before}")


def count_of(kind: str) -> int:
    """How many open files (`fd`) or threads (`task`) this process has."""
    return len(list(Path("/proc/self", kind).iterdir()))


@pytest.mark.jack
def test_listing_leaves_nothing_behind(driver):
    driver.input_names()
    before = count_of("fd")
    for _ in range(600):
        driver.input_names()
        driver.output_names()
    assert count_of("fd") == before


@pytest.mark.jack
@pytest.mark.parametrize(
    ("length", "arrives"),
    [(1_000, True), (MAX_SENT_BYTES, True), (MAX_SENT_BYTES + 1, False), (100_000, False)],
)
def test_long_sysex_arrives_whole_or_is_counted(driver, player, length, arrives):
    outlet = driver.open_output("through", virtual=True)
    connect(outlet.name, player.port("in"))
    dump = b"\xf0" + bytes(n % 128 for n in range(length - 2)) + b"\xf7"
    outlet.send(dump)
    time.sleep(0.05)  # the ring holds 16384 bytes: let it pass before more is sent
    outlet.send(NOTE_ON)
    wait_until(lambda: player.heard() and player.heard()[-1].data == NOTE_ON, "the note")
    sent_whole = dump in [one.data for one in player.heard()]
    assert sent_whole == arrives
    assert outlet.rejected == (0 if arrives else 1)


@pytest.mark.jack
def test_a_burst_of_note_offs_arrives_whole(driver, player):
    # 96 messages at once are what a panic sends.
    outlet = driver.open_output("through", virtual=True)
    connect(outlet.name, player.port("in"))
    burst = [bytes((0x80, note, 64)) for note in range(96)]
    for _ in range(10):
        player.forget()
        for message in burst:
            outlet.send(message)
        assert [one.data for one in player.wait_for(len(burst))] == burst


# What others send


@pytest.mark.jack
def test_an_unended_sysex_mutes_an_input_only_until_the_pulse_ends_it(driver, player):
    heard: list[bytes] = []
    cleaner = Cleaner()
    inlet = driver.open_input("keys in", lambda _, d: heard.extend(cleaner.feed(d)), virtual=True)
    other = driver.open_input("clock in", nobody, virtual=True)
    pulse = Pulse(driver, [inlet, other])
    connect(player.port("out"), inlet.name)
    player.send(b"\xf0\x01\x02")
    player.send(NOTE_ON)
    begun_s = time.monotonic()
    while NOTE_ON not in heard:
        assert pulse.lives(time.monotonic_ns())
        assert time.monotonic() - begun_s < 30
        time.sleep(0.02)
    assert time.monotonic() - begun_s > 1.5
    assert pulse.unstuck == 1
    player.send(NOTE_OFF)
    wait_until(lambda: NOTE_OFF in heard, "the note after it")
    assert heard == [b"\xf0\x01\x02\xf7", NOTE_ON, NOTE_OFF]


@pytest.mark.jack
@pytest.mark.parametrize(
    ("event", "messages"),
    [
        (b"\x90\x3c\x40\x3e\x40", [b"\x90\x3c\x40", b"\x90\x3e\x40"]),
        (b"\x90\x3c\x40\x80\x3c\x40", [NOTE_ON, NOTE_OFF]),
        (b"\xf0\x01\xf8\x02\xf7", [b"\xf8", b"\xf0\x01\x02\xf7"]),
        (b"\x3c\x40", []),
        (b"\x90", []),
        (b"\x90\xc8\x40", [b"\xc8\x40"]),
    ],
    ids=lambda value: value.hex() if isinstance(value, bytes) else None,
)
def test_what_a_player_packs_wrongly_is_cleaned(driver, player, event, messages):
    heard: list[bytes] = []
    cleaner = Cleaner()
    inlet = driver.open_input("keys in", lambda _, d: heard.extend(cleaner.feed(d)), virtual=True)
    connect(player.port("out"), inlet.name)
    player.send(event)
    player.send(b"\xfa")
    wait_until(lambda: b"\xfa" in heard, "the message after it")
    assert heard == [*messages, b"\xfa"]


@pytest.mark.jack
def test_arrival_is_stamped_when_it_arrives(driver, player):
    heard: list[int] = []
    inlet = driver.open_input("keys in", lambda at_ns, _: heard.append(at_ns), virtual=True)
    connect(player.port("out"), inlet.name)
    player.play([(n * 0.02, NOTE_ON) for n in range(50)])
    wait_until(lambda: len(heard) == 50, "fifty notes")
    delays_ms = sorted((at - one.at_ns) / 1e6 for at, one in zip(heard, player.sent(), strict=True))
    # A period holds 1.3 ms, and an event may be handed over before its own frame in it. Only
    # broken stamps (deltas, another clock) could be a second out.
    assert delays_ms[0] > -1.4
    assert delays_ms[25] < 1000


# The death of the server


@pytest.mark.jack
@pytest.mark.parametrize(("number", "rounds"), [("KILL", 3), ("TERM", 1)])
def test_a_dead_server_is_noticed_and_the_ports_come_back(jack_server, run_command, number, rounds):
    server = JackServer("mortal")
    command = [sys.executable, "-c", SURVIVOR, f"SIG{number}", str(rounds), *server.command]
    ended = run_command(command, timeout_s=60, env=server.env)
    assert ended.status == 0, ended.err
    told = [f"round {count}" for count in range(1, rounds + 1)]
    assert ended.out.splitlines() == [*told, "clean end"]


SURVIVOR = """
import os, signal, subprocess, sys, time
from live.ports.pulse import Pulse
from live.ports.rt import open_driver

number, rounds, command = getattr(signal, sys.argv[1]), int(sys.argv[2]), sys.argv[3:]
nowhere = {"stdin": subprocess.DEVNULL, "stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
fds = []
for count in range(1, rounds + 1):
    server = subprocess.Popen(command, **nowhere)
    subprocess.run(["jack_wait", "-w", "-t", "10"], check=True, **nowhere)
    driver = open_driver("jack")
    inlets = [driver.open_input(n, lambda *_: None, virtual=True) for n in ("keys in", "clock in")]
    through = driver.open_output("through", virtual=True)
    assert through.name == "undersong through:through", through.name
    pulse = Pulse(driver, inlets)
    fds.append(len(os.listdir("/proc/self/fd")))
    for _ in range(10):
        assert pulse.lives(time.monotonic_ns())
        through.send(b"\\xf8")
        time.sleep(0.02)
    server.send_signal(number)
    died = time.monotonic()
    while pulse.lives(time.monotonic_ns()):
        through.send(b"\\xf8")
        time.sleep(0.02)
        assert time.monotonic() - died < 3.0, "not noticed"
    driver.close()
    server.wait(10)
    print("round", count, flush=True)
assert len(set(fds)) == 1, fds
print("clean end")
"""


# Names and lists, with a library that misbehaves


class FakeRaw:
    """Stands in for a MidiIn whose list of ports changes while it is used."""

    lists: ClassVar[list[list[bytes | None]]] = []

    def __init__(self, api: int, name: str) -> None:
        self.opened: list[int] = []
        self.name = name

    def get_port_count(self) -> int:
        self.shown = self.lists.pop(0) if len(self.lists) > 1 else self.lists[0]
        return len(self.shown)

    def get_port_name(self, port: int, encoding: None) -> bytes | None:
        return self.shown[port]

    def open_port(self, port: int, name: str) -> None:
        self.opened.append(port)

    def open_virtual_port(self, name: str) -> None:
        raise NotImplementedError

    def close_port(self) -> None:
        self.opened.append(-1)

    def ignore_types(self, **kinds: bool) -> None:
        pass

    def set_callback(self, func: object) -> None:
        pass

    def cancel_callback(self) -> None:
        pass

    def get_message(self) -> None:
        return None

    def delete(self) -> None:
        pass


@pytest.fixture
def fake(monkeypatch):
    made: list[FakeRaw] = []

    def make(api: int, name: str, queue_size_limit: int = 0) -> FakeRaw:
        made.append(FakeRaw(api, name))
        return made[-1]

    monkeypatch.setattr(rt.rtmidi, "MidiIn", make)
    monkeypatch.setattr(rt.rtmidi, "MidiOut", make)
    return made


def test_the_list_changes_between_choosing_and_opening(fake):
    FakeRaw.lists = [[b"a", b"keys"], [b"a", b"keys"], [b"keys"], [b"keys"]]  # looked up, chosen
    driver = RtDriver(rtmidi.API_LINUX_ALSA, "undersong")
    inlet = driver.open_input("keys", nobody, virtual=False)
    assert inlet.name == "keys"
    # First number 1, which after the change was another port or none; closed; then number 0.
    assert fake[-1].opened == [1, -1, 0]


def test_a_list_that_never_holds_still_is_an_error(fake):
    FakeRaw.lists = [[b"keys", bytes((n,))] for n in range(65, 90)]
    driver = RtDriver(rtmidi.API_LINUX_ALSA, "undersong")
    with pytest.raises(PortError, match="does not hold still"):
        driver.open_input("keys", nobody, virtual=False)


def test_names_that_are_not_utf_8_or_missing_keep_their_place(fake):
    FakeRaw.lists = [[b"Stra\xdfe", None, "日".encode()]]
    driver = RtDriver(rtmidi.API_LINUX_ALSA, "undersong")
    assert driver.input_names() == ["Straße", "", "日"]
    driver.open_input("日", nobody, virtual=False)
    assert fake[-1].opened == [2]


def test_a_port_that_is_in_use_elsewhere_is_told_as_such(fake, monkeypatch):
    FakeRaw.lists = [[b"keys"]]

    def busy(self: FakeRaw, port: int, name: str) -> None:
        raise rtmidi.SystemError("MidiInWinMM::openPort: error creating Windows MM input port")

    monkeypatch.setattr(FakeRaw, "open_port", busy)
    driver = RtDriver(rtmidi.API_WINDOWS_MM, "undersong")
    with pytest.raises(PortError, match=r"'keys' cannot be opened: .*Another program may be using"):
        driver.open_input("keys", nobody, virtual=False)


def test_where_there_are_no_virtual_ports_this_is_said(fake):
    FakeRaw.lists = [[]]
    driver = RtDriver(rtmidi.API_WINDOWS_MM, "undersong")
    assert not driver.has_virtual_ports
    with pytest.raises(
        PortError, match="'keys in' cannot be offered: Windows has no virtual ports"
    ):
        driver.open_input("keys in", nobody, virtual=True)


def test_where_the_system_shows_no_clients_the_port_says_whose_it_is(fake, monkeypatch):
    FakeRaw.lists = [[]]
    opened: list[str] = []
    monkeypatch.setattr(FakeRaw, "open_virtual_port", lambda self, name: opened.append(name))
    RtDriver(rtmidi.API_MACOSX_CORE, "undersong").open_output("through", virtual=True)
    RtDriver(rtmidi.API_LINUX_ALSA, "undersong").open_output("through", virtual=True)
    assert opened == ["undersong through", "through"]


def test_another_package_of_that_name_is_told_as_such(tmp_path: Path) -> None:
    # Two other packages install a module `rtmidi` without the functions of python-rtmidi.
    (tmp_path / "rtmidi.py").write_text("class RtMidiIn: pass\n")
    asked = "from live.ports.rt import open_driver; open_driver()"
    ended = run([sys.executable, "-c", asked], env={"PYTHONPATH": f"{tmp_path}:{ROOT}"})
    assert "PortError: The package 'rtmidi' that is installed is another one" in ended.err
    assert "python-rtmidi" in ended.err
