"""Two keyboards, two ways to the DAW, a synthesiser and the DAW's return, on real ports."""

from __future__ import annotations

import json
import os
import signal
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest

from live.takes.journal import list_takes, read_take
from tests.daemon.test_faults import child_is_new, child_of
from tests.hearing import Receiver
from tests.jackworld import JackServer, Player, ports
from tests.processes import run, wait_until
from tests.running import Running

pytestmark = pytest.mark.jack
SETTINGS = """
[play]
key = "D minor"
snap = "off"
[time]
start_on_first_note = false
[ports]
keyboards = ["grand:out", "pads:out"]
own_outputs = ["low"]
outputs = ["synth:in"]
[[zone]]
name = "left hand"
input = "grand:out"
range = "A0:B2"
role = "bass call"
output = "low"
out_channel = 2
[[zone]]
name = "right hand"
input = "grand:out"
range = "C3:C8"
[[zone]]
name = "pads"
input = "pads:out"
role = "drums"
channels = [10]
[[zone]]
name = "switches"
input = "pads:out"
role = "control"
[[zone]]
name = "octave"
input = "grand:out"
range = "A1:B1"
[[route]]
input = "pads:out"
output = "synth:in"
channels = [10]
out_channel = 5
[[route]]
input = "return"
output = "synth:in"
"""
BACK = "undersong return:return"
PEDAL = b"\xb0\x40\x7f"


class Studio:
    """Everybody who plays or listens, on a server of their own or (None) the world's."""

    def __init__(self, folder: Path, server: JackServer | None, stack: ExitStack) -> None:
        self.server = server.name if server else None
        self.stack = stack
        self.grand, self.pads = self.player("grand"), self.player("pads")
        self.synth = self.player("synth", ins=("in",), outs=())
        self.daw = self.player("daw", ins=("through", "low"), outs=("back",))
        self.running = stack.enter_context(Running(folder, SETTINGS, server.env if server else {}))
        self.wire()

    def player(self, name: str, *, ins: tuple[str, ...] = (), outs: tuple[str, ...] = ("out",)):
        return self.stack.enter_context(Player(name, ins=ins, outs=outs, server=self.server))

    def wire(self) -> None:
        """What the player does in the DAW."""
        for role in ("through", "low"):
            self.daw.connect(f"undersong {role}:{role}", self.daw.port(role))
        self.daw.connect(self.daw.port("back"), BACK)

    def heard(self, who: Player, port: str) -> list[bytes]:
        return [one.data for one in who.heard(port)]

    def insist(self, who: Player, data: bytes, reached: Callable[[], bool]) -> None:
        """Send until it has come in: a server that waits for nobody drops events."""

        def sent() -> bool:
            who.send(data)
            return reached()

        wait_until(sent, f"{data.hex()} to arrive", step_s=0.2)

    def strike(self, who: Player, note: int, *places: tuple[Player, str, bytes]) -> None:
        """Hold a note; it arrives at each of the places as given there."""
        channel = 9 if who is self.pads else 0
        self.insist(
            who,
            bytes((0x90 | channel, note, 80)),
            lambda: all(data in self.heard(at, port) for at, port, data in places),
        )


@pytest.fixture
def studio(other_jack: Callable[..., JackServer], tmp_path: Path) -> Iterator[Studio]:
    """On a server that does not wait for those who are killed."""
    with ExitStack() as stack:
        yield Studio(tmp_path, other_jack(in_step=False), stack)


def sent(studio: Studio, port: str) -> list[bytes]:
    """What the journal says left on a port; nothing before it was first written."""
    takes = list_takes(studio.running.journal)
    records = read_take(studio.running.journal, takes[-1].id).records if takes else ()
    return [r.data for r in records if r.kind == "out" and r.port == port]


def sounding(messages: list[bytes]) -> list[tuple[int, int]]:
    receiver = Receiver()
    receiver.hear(messages)
    assert receiver.doubled_ons == 0
    return receiver.held


def struck(messages: list[bytes]) -> list[tuple[int, int]]:
    """The notes that arrived. (Their number and ends the server may have dropped.)"""
    ons = {(m[0] & 0x0F, m[1]) for m in messages if m[0] & 0xF0 == 0x90 and m[2]}
    return sorted(ons)


def hold_everything(studio: Studio) -> None:
    """A note of each kind, held: left hand, right hand, pad, and one that the DAW returns."""
    daw, synth = studio.daw, studio.synth
    studio.strike(studio.grand, 40, (daw, "low", b"\x91\x28\x50"))
    studio.strike(studio.grand, 64, (daw, "through", b"\x90\x40\x50"))
    pad = b"\x99\x24\x50"
    studio.strike(studio.pads, 36, (daw, "through", pad), (synth, "in", b"\x94\x24\x50"))
    studio.strike(daw, 50, (synth, "in", b"\x90\x32\x50"))
    studio.insist(
        studio.grand,
        PEDAL,
        lambda: (
            PEDAL in studio.heard(daw, "through") and b"\xb1\x40\x7f" in studio.heard(daw, "low")
        ),
    )


def test_nothing_is_crossed_and_a_lost_keyboard_leaves_nothing_sounding(studio: Studio) -> None:
    hold_everything(studio)
    daw, synth = studio.daw, studio.synth
    assert struck(studio.heard(daw, "low")) == [(1, 40)]
    assert struck(studio.heard(daw, "through")) == [(0, 64), (9, 36)]
    assert struck(studio.heard(synth, "in")) == [(0, 50), (4, 36)]
    studio.running.wait_for("sounding", [36, 36, 40, 50, 64])
    studio.insist(studio.pads, b"\x90\x3c\x50", lambda: 60 in studio.running.status()["held"])
    assert struck(studio.heard(daw, "through")) == [(0, 64), (9, 36)]  # a switch is silent

    studio.grand.kill()
    wait_until(
        lambda: studio.running.status()["sounding"] == [36, 36, 50], "the grand's end", step_s=0.1
    )
    # The server may have dropped some of it on its way, so the journal is asked what was sent.
    wait_until(lambda: b"\xb1\x40\x00" in sent(studio, "low"), "the journal", step_s=0.2)
    assert sounding(sent(studio, "low")) == []
    assert sounding(sent(studio, "through")) == [(9, 36)]
    assert sounding(sent(studio, "synth:in")) == [(0, 50), (4, 36)]
    for port, lift in (("through", b"\xb0\x40\x00"), ("low", b"\xb1\x40\x00")):
        assert sent(studio, port)[-1] == lift
    states = {p["name"]: p["state"] for p in studio.running.status()["inputs"]}
    assert states["grand:out"] == "waiting"


RELEASED = {b"\x80\x32\x40", b"\x84\x24\x40"}
"""What ends the notes that `hold_everything` holds on the synthesiser."""


def open_outputs(studio: Studio) -> list[str]:
    outputs = studio.running.status()["outputs"]
    return [port["name"] for port in outputs if port["state"] == "open"]


def kill_engine(studio: Studio) -> set[bytes]:
    """Hold notes and kill the engine. Returns: what the synthesiser has heard 6 s after the
    new one has joined it, or as soon as that holds the release."""
    hold_everything(studio)
    wait_until(lambda: studio.running.status()["sounding"] != [], "records")
    first = child_of(studio.running, "engine_process")
    studio.synth.forget()
    os.kill(first, signal.SIGKILL)
    wait_until(lambda: child_is_new(studio.running, first), "a new engine")
    wait_until(lambda: "synth:in" in open_outputs(studio), "its ports", 25, 0.05)
    end_s = time.monotonic() + 6
    while time.monotonic() < end_s and not set(studio.heard(studio.synth, "in")) >= RELEASED:
        time.sleep(0.05)
    return set(studio.heard(studio.synth, "in"))


def test_a_killed_engine_releases_what_it_held_on_every_output(studio: Studio) -> None:
    """A server that waits for nobody may drop a message both times: then there is a second round.

    Our own ports are new after a kill, and nobody is connected to them yet; the synthesiser's is
    its own.
    """
    if not kill_engine(studio) >= RELEASED:
        studio.wire()
        assert kill_engine(studio) >= RELEASED


def test_the_routing_is_shown_as_it_runs(studio: Studio) -> None:
    shown = run(studio.running.command("ports", "--json"), timeout_s=30, env=studio.running.env)
    assert shown.status == 0
    found = json.loads(shown.out)
    assert found["state"] == "in use by the running daemon"
    rows = [(r["input"], r["takes"], r["output"], r["channel"]) for r in found["routing"]]
    assert rows == [
        ("grand:out", "A0:B2", "low", 2),
        ("grand:out", "C3:C8", "through", 0),
        ("pads:out", "channel 10", "through", 0),
        ("pads:out", "all", "", 0),
        ("grand:out", "A1:B1", "through", 0),
        ("any input", "channel 10", "through", 0),
        ("any input", "all the rest", "through", 0),
        ("pads:out", "channel 10", "synth:in", 5),
        ("return", "all", "synth:in", 0),
        ("the bass", "E1:G3", "answer", 1),
    ]
    assert found["routing_notes"] == [
        "zone 'octave' is never reached: 'left hand' takes all its notes"
    ]
    assert BACK in ports(studio.server)
    assert "zone 'octave' is never reached" in studio.running.process.err
