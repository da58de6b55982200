"""Faults while notes flow: a flood, a port that goes, sound that dies, and everything stood still.

Real processes on real ports. What must hold is counted from the bytes that are heard.
"""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from live.takes.journal import list_takes, read_take
from tests.daemon.test_faults import insist
from tests.hearing import Receiver
from tests.jackworld import JackServer, Player
from tests.processes import run, wait_until
from tests.running import ANSWER, KEYS_IN, THROUGH, Running

pytestmark = pytest.mark.jack
PLAIN = '[play]\nkey = "D minor"\nsnap = "off"\n[time]\nstart_on_first_note = false\n'
PER_SECOND = 4_000
FLOOD = 8_000
STILL_S = 3.0
"""Long enough for everything that looks after something to look in vain."""


def children(running: Running, module: str) -> list[int]:
    """Process ids of the daemon's children of one kind."""
    listed = run(["pgrep", "-P", str(running.process.pid), "-f", module]).out.split()
    return [int(number) for number in listed]


def taken(running: Running, kind: str, port: str = "") -> list[bytes]:
    """What the journal says came in (`in`) or left (`out`), of one port or all.

    A server that does not wait for its clients drops and garbles events when the machine is busy,
    so what arrives at a player says nothing of us there.
    """
    records = read_take(running.journal, list_takes(running.journal)[-1].id).records
    return [r.data for r in records if r.kind == kind and port in ("", r.port)]


def notes(channel: int, count: int) -> list[bytes]:
    """Note-ons and note-offs by turns; no two messages near one another are alike."""
    made = []
    for number in range(count):
        pitch, velocity = 1 + number // 2 % 126, 1 + number // 252 % 127
        made.append(bytes(((0x80 if number % 2 else 0x90) | channel, pitch, velocity)))
    return made


def test_a_flood_on_four_inputs_loses_doubles_and_reorders_nothing(
    jack_server: None, tmp_path: Path
) -> None:
    outs = ("a", "b", "c", "d")
    with Player("pad", ins=("through",), outs=outs) as pad:
        named = ", ".join(f'"pad:{out}"' for out in outs[1:])
        with Running(tmp_path, f"{PLAIN}[ports]\nkeyboards = [{named}]\n") as running:
            pad.connect(pad.port("a"), KEYS_IN)
            pad.connect(THROUGH, pad.port("through"))
            sent = {out: notes(channel, FLOOD // 4) for channel, out in enumerate(outs)}
            for out, messages in sent.items():
                script = [(4 * n / PER_SECOND, data) for n, data in enumerate(messages)]
                pad.play(script, out, start_in_s=0.3)
            pad.wait_until_sent()
            heard = [one.data for one in pad.wait_for(FLOOD)]
            assert running.status()["lost"] == 0, running.process.err
    for channel, messages in enumerate(sent.values()):
        assert [data for data in heard if data[0] & 0x0F == channel] == messages
    receiver = Receiver()
    receiver.hear(heard)
    assert (receiver.held, receiver.doubled_ons, receiver.stray_offs) == ([], 0, 0)


def test_a_keyboard_that_goes_in_mid_flood_leaves_no_note_and_no_pedal(
    other_jack: Callable[..., JackServer], tmp_path: Path
) -> None:
    server = other_jack(in_step=False)
    settings = f'{PLAIN}[ports]\nkeyboards = ["grand:out"]\n'
    with (
        Player("desk", ins=("through",), server=server.name) as desk,
        Player("grand", server=server.name) as grand,
    ):
        with Running(tmp_path, settings, server.env) as running:
            desk.connect(THROUGH, desk.port("through"))
            wait_until(lambda: running.status()["inputs"][-1]["state"] == "open", "it", step_s=0.05)
            for data in (b"\x90\x3e\x50", b"\x90\x41\x50", b"\xb0\x40\x7f"):
                insist(grand, data, lambda data=data: data in [one.data for one in desk.heard()])
            running.wait_for("held", [62, 65])
            wheel = [bytes((0xB0, 1, n % 128)) for n in range(PER_SECOND * 3)]
            grand.play([(n / PER_SECOND, data) for n, data in enumerate(wheel)])
            wait_until(lambda: len(desk.heard()) > 200, "the flood")
            grand.kill()
            running.wait_for("sounding", [])
            assert running.status()["inputs"][-1]["state"] == "waiting"
            desk.connect(desk.port("out"), KEYS_IN)
            insist(desk, b"\x90\x40\x50", lambda: running.status()["held"] == [64])
        left = taken(running, "out")
        others = [data for data in left if data[:2] != b"\xb0\x01"]
        again = others.index(b"\x90\x40\x50")
        ends = others[again - 3 : again]
        assert sorted(ends) == [b"\x80\x3e\x40", b"\x80\x41\x40", b"\xb0\x40\x00"]
        receiver = Receiver()
        receiver.hear(left)
        assert (set(receiver.ons), receiver.held) == ({62, 65, 64}, [])


def test_a_killed_sound_process_comes_back_and_notes_flow_meanwhile(
    other_jack: Callable[..., JackServer], tmp_path: Path
) -> None:
    server = other_jack(in_step=False)
    device = "system, JACK Audio Connection Kit"
    settings = f'{PLAIN}[sound]\non = true\ndevice = "{device}"\n'
    with (
        Running(tmp_path, settings, server.env) as running,
        Player("pad", ins=("through",), server=server.name) as pad,
    ):
        pad.connect(pad.port("out"), KEYS_IN)
        pad.connect(THROUGH, pad.port("through"))
        running.process.wait_for_text("sound:")
        [engine] = children(running, "engine_process")
        [first] = children(running, "sound_process")
        wheel = [bytes((0xB0, 1, n % 128)) for n in range(600)]
        running.tell("note", "on", "D4")  # a note opens a take
        pad.play([(n * 0.004, data) for n, data in enumerate(wheel)])
        wait_until(lambda: len(pad.heard()) > 40, "messages")
        os.kill(first, signal.SIGKILL)
        before = len(pad.heard())
        wait_until(lambda: len(pad.heard()) > before + 40, "messages without sound")
        wait_until(lambda: children(running, "sound_process") not in ([], [first]), "another")
        pad.wait_until_sent()
        assert children(running, "engine_process") == [engine]
    assert len(taken(running, "in")) > before
    left, came = taken(running, "out"), taken(running, "in")
    assert left[: len(came)] == came
    # At the end of it all the note ends, and the wheel goes to rest if it is not there already.
    assert left[len(came) :] in ([b"\x80\x3e\x40"], [b"\x80\x3e\x40", b"\xb0\x01\x00"])


def test_a_server_that_stands_still_for_seconds_costs_nothing_but_the_time(
    other_jack: Callable[..., JackServer], tmp_path: Path
) -> None:
    server = other_jack()
    with (
        Running(tmp_path, PLAIN, server.env) as running,
        Player("pad", ins=("through",), server=server.name) as pad,
    ):
        [engine] = children(running, "engine_process")
        pad.connect(pad.port("out"), KEYS_IN)
        pad.connect(THROUGH, pad.port("through"))
        pad.send(b"\x90\x3e\x50")
        running.wait_for("held", [62])
        server.send_signal(signal.SIGSTOP)
        running.tell("note", "on", "A4")  # from the computer keyboard, which needs no server
        running.wait_for("held", [62, 69])
        time.sleep(STILL_S)
        running.tell("note", "off", "A4")
        server.send_signal(signal.SIGCONT)
        pad.send(b"\x80\x3e\x40")
        running.wait_for("held", [])
        before = len(pad.heard())
        pad.send(b"\x90\x40\x50")
        wait_until(lambda: len(pad.heard()) > before, "a note after it")
        assert children(running, "engine_process") == [engine]
    receiver = Receiver()
    receiver.hear(taken(running, "out"))
    assert (receiver.ons, receiver.held) == ([62, 69, 64], [])


def test_a_daemon_that_was_suspended_goes_on_and_plays_no_burst(
    other_jack: Callable[..., JackServer], tmp_path: Path
) -> None:
    """As when the machine sleeps: every process of ours stands still while an answer plays."""
    server = other_jack(in_step=False)
    settings = '[play]\nkey = "D minor"\n[time]\ntempo = 172.0\n'
    settings += "[form]\ncall_bars = 1\nanswer_bars = 8\n"
    with (
        Running(tmp_path, settings, server.env) as running,
        Player("pad", ins=("answer",), server=server.name) as pad,
    ):
        [engine] = children(running, "engine_process")
        pad.connect(pad.port("out"), KEYS_IN)
        pad.connect(ANSWER, pad.port("answer"))
        for data in (b"\x90\x3e\x50", b"\x80\x3e\x40", b"\x90\x45\x50", b"\x80\x45\x40"):
            pad.send(data)
        pad.wait_for(5)
        os.killpg(running.process.pid, signal.SIGSTOP)
        before = pad.heard()
        time.sleep(STILL_S)
        os.killpg(running.process.pid, signal.SIGCONT)
        wait_until(lambda: len(pad.heard()) > len(before), "the first note after it")
        at_ns = pad.heard()[len(before)].at_ns
        burst = [one for one in pad.heard()[len(before) :] if one.at_ns < at_ns + 50_000_000]
        # At 172 BPM a beat lasts 0.35 s: only what was due within the last one is still played.
        assert sum(one.data[0] & 0xF0 == 0x90 for one in burst) <= 4
        running.tell("stop")
        heard = len(pad.wait_for_quiet())
        wait_until(lambda: len(taken(running, "out", "answer")) >= heard, "the journal", step_s=0.2)
        receiver = Receiver()
        receiver.hear(taken(running, "out", "answer"))
        assert (receiver.held, receiver.doubled_ons) == ([], 0)
        assert children(running, "engine_process") == [engine]


def test_an_output_wired_to_an_input_is_cut_and_playing_goes_on(
    jack_server: None, tmp_path: Path
) -> None:
    with Running(tmp_path, PLAIN) as running, Player("pad", ins=("through",)) as pad:
        pad.connect(pad.port("out"), KEYS_IN)
        pad.connect(THROUGH, pad.port("through"))
        pad.connect(THROUGH, KEYS_IN)
        pad.send(b"\x90\x3e\x50")
        heard = [one.data for one in pad.wait_for_quiet()]  # by itself it would go round for ever
        assert len(heard) < 100
        receiver = Receiver()
        receiver.hear(heard)
        assert receiver.held == []
        assert "comes in again" in running.status()["notice"]
        pad.forget()
        for data in (b"\x90\x41\x50", b"\x80\x41\x40"):
            pad.send(data)
        assert [one.data for one in pad.wait_for_quiet()] == [b"\x90\x41\x50", b"\x80\x41\x40"]
