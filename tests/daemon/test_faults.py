"""What happens when something dies, is missing or is there twice. Real processes, real ports."""

from __future__ import annotations

import json
import os
import signal
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from live.takes.journal import list_takes, read_take
from tests.hearing import Receiver
from tests.jackworld import JackServer, Player, ports
from tests.processes import Started, run, wait_until
from tests.running import ANSWER, KEYS_IN, THROUGH, Running

pytestmark = pytest.mark.jack
SETTINGS = '[play]\nkey = "D minor"\n[time]\nstart_on_first_note = false\n'


@pytest.fixture
def loose(other_jack: Callable[..., JackServer], tmp_path: Path) -> Iterator[Running]:
    """On a server that does not wait for clients, so that one may be killed."""
    server = other_jack(in_step=False)
    with Running(tmp_path, SETTINGS, server.env) as one:
        yield one


def child_of(running: Running, module: str) -> int:
    """Process id of a child of the daemon, from the system's process table."""
    lines = run(["pgrep", "-P", str(running.process.pid), "-f", module]).out.split()
    assert len(lines) == 1, lines
    return int(lines[0])


def sent_through(running: Running) -> list[bytes]:
    """What the journal says left on `through`; nothing before it was first written."""
    takes = list_takes(running.journal)
    records = read_take(running.journal, takes[-1].id).records if takes else ()
    return [r.data for r in records if r.kind == "out" and r.port == "through"]


def insist(pad: Player, data: bytes, reached: Callable[[], object]) -> None:
    """Send until it has come in: a server that does not wait for its clients drops events."""

    def sent() -> object:
        pad.send(data)
        return reached()

    wait_until(sent, f"{data.hex()} to come in", step_s=0.2)


def test_a_killed_engine_comes_back_and_what_sounded_is_released(loose: Running) -> None:
    with Player("pad", server=loose.env["JACK_DEFAULT_SERVER"]) as pad:
        pad.connect(pad.port("out"), KEYS_IN)
        insist(pad, b"\x90\x3e\x50", lambda: loose.status()["sounding"] == [62])
        # And the pedal that would let it ring on.
        insist(pad, b"\xb0\x40\x7f", lambda: b"\xb0\x40\x7f" in sent_through(loose))
        first = child_of(loose, "engine_process")
        os.kill(first, signal.SIGKILL)
        wait_until(lambda: child_is_new(loose, first), "a new engine")
        wait_until(lambda: open_outputs(loose) == 2, "open ports")
        # Names are the same; what was connected has to be connected again.
        pad.connect(pad.port("out"), KEYS_IN)
        insist(pad, b"\x90\x41\x50", lambda: loose.status()["sounding"] == [65])
        insist(pad, b"\x80\x41\x40", lambda: loose.status()["sounding"] == [])
    # The new engine's first act was the release. The journal is written a little later.
    wait_until(lambda: b"\x80\x41\x40" in sent_through(loose), "the journal")
    left = sent_through(loose)
    lifted = left.index(b"\xb0\x40\x00")
    assert left[lifted - 1] == b"\x80\x3e\x40"
    assert left.index(b"\x90\x41\x50") > lifted
    receiver = Receiver()
    receiver.hear(left)
    assert receiver.held == []


def test_an_engine_that_hangs_is_replaced_within_seconds(loose: Running) -> None:
    """A stopped process stands for a MIDI service that holds the interpreter's lock."""
    first = child_of(loose, "engine_process")
    os.kill(first, signal.SIGSTOP)
    wait_until(lambda: child_is_new(loose, first), "a new engine")
    wait_until(lambda: open_outputs(loose) == 2, "open ports")
    assert "hung" in loose.process.err
    assert "started again" in loose.status()["notice"]


def child_is_new(running: Running, old: int) -> bool:
    found = run(["pgrep", "-P", str(running.process.pid), "-f", "engine_process"]).out.split()
    return len(found) == 1 and int(found[0]) != old


def open_outputs(running: Running) -> int:
    return sum(port["state"] == "open" for port in running.status()["outputs"])


def test_a_killed_composer_comes_back_and_notes_flow_meanwhile(running: Running) -> None:
    with Player("pad", ins=("through",)) as pad:
        pad.connect(pad.port("out"), KEYS_IN)
        pad.connect(THROUGH, pad.port("through"))
        first = child_of(running, "composer_process")
        os.kill(first, signal.SIGKILL)
        pad.send(b"\x90\x3e\x50")
        pad.send(b"\x80\x3e\x40")
        assert [one.data for one in pad.wait_for(2)] == [b"\x90\x3e\x50", b"\x80\x3e\x40"]
        wait_until(
            lambda: (
                run(["pgrep", "-P", str(running.process.pid), "-f", "composer_process"]).out.split()
                not in ([], [str(first)])
            ),
            "a new composer",
        )


def test_a_killed_supervisor_takes_the_engine_with_it_and_nothing_sounds_on(
    running: Running,
) -> None:
    with Player("pad", ins=("through",)) as pad:
        pad.connect(pad.port("out"), KEYS_IN)
        pad.connect(THROUGH, pad.port("through"))
        for note in (62, 65, 69):
            pad.send(bytes((0x90, note, 80)))
        pad.wait_for(3)
        engine = child_of(running, "engine_process")
        # What is in the journal's hands for 0.1 s is kept.
        wait_until(lambda: [t.notes for t in list_takes(running.journal)] == [3], "the take")
        running.process.send_signal(signal.SIGKILL)
        receiver = Receiver()
        receiver.hear(one.data for one in pad.wait_for(6))
        assert len(receiver.ons) == 3
        assert receiver.held == []
        wait_until(lambda: not Path(f"/proc/{engine}").exists(), "the engine's end")
    # The next daemon takes over what the dead one left behind, and offers the take.
    running.process.close()
    running.start()
    [take] = list_takes(running.journal)
    assert take.notes == 3


def test_a_second_daemon_says_so_and_leaves(running: Running) -> None:
    second = run(running.command("headless"), env=running.env)
    assert second.status == 1
    assert "already running" in second.err
    assert "Traceback" not in second.err
    assert running.status()["ok"]


def test_a_bad_settings_file_is_told_and_the_daemon_keeps_what_it_had(running: Running) -> None:
    running.config.write_text('[play]\nkey = "H minor"\n', encoding="utf-8")
    from live.daemon.link import LinkClient

    with LinkClient(running.link) as client:
        reply = client.tell("reload")
        assert reply["ok"] is False
        assert "play.key" in reply["error"]
        assert "line 2" in reply["error"]
        assert "H minor" in reply["error"]
    assert running.status()["key"] == "D minor"
    running.config.write_text('[play]\nkey = "G minor"\n', encoding="utf-8")
    running.tell("reload")
    assert running.status()["key"] == "G minor"
    ended = run(running.command("headless", "--config", "/nowhere/x.toml"), env=running.env)
    assert ended.status == 2
    assert "settings file" in ended.err


@pytest.mark.usefixtures("_jack_world")
def test_without_a_midi_service_it_runs_and_says_so(tmp_path: Path) -> None:
    env = {"JACK_DEFAULT_SERVER": "nobody", "JACK_NO_START_SERVER": "1"}
    one = Running.__new__(Running)
    one.prepare(tmp_path, SETTINGS, env)
    one.process = Started(
        one.command("headless", "--config", str(one.config)), limit_s=60, env=one.env
    )
    try:
        wait_until(one.answers, "the link", step_s=0.05)
        wait_until(lambda: one.status()["inputs"], "news of the ports", step_s=0.05)
        [port] = one.status()["inputs"]
        assert port["state"] == "no MIDI service"
        assert "jack" in port["reason"].lower()
        one.tell("note", "on", "C#4")
        one.wait_for("held", [61])
    finally:
        one.close()
    assert "Traceback" not in one.process.err if one.process.running else True


def test_an_unknown_port_is_waited_for_and_used_when_it_comes(
    jack_server: None, tmp_path: Path
) -> None:
    with Running(tmp_path, SETTINGS + '[ports]\nkeyboards = ["grand"]\n') as running:
        waiting = running.status()["inputs"][-1]
        assert (waiting["name"], waiting["state"]) == ("grand", "waiting")
        with Player("grand", ins=("through",)) as pad:
            pad.connect(THROUGH, pad.port("through"))
            wait_until(lambda: running.status()["inputs"][-1]["state"] == "open", "it", step_s=0.05)
            pad.send(b"\x90\x3e\x50")
            pad.wait_for(1)
        # It goes with the note still down: the note is released.
        wait_until(lambda: running.status()["sounding"] == [], "the release", step_s=0.05)
        assert running.status()["inputs"][-1]["state"] == "waiting"


def test_tell_speaks_json_and_refuses_in_words(running: Running) -> None:
    status = run(running.command("tell", "status", "--json"), env=running.env)
    assert status.status == 0
    facts = json.loads(status.out)
    wanted = "key snap tempo clock playing bar beat chord held sounding answer_state inputs outputs"
    assert set(wanted.split()) | {"lost", "late_ms_p99"} <= set(facts)
    refused = run(running.command("tell", "key", "H minor"), env=running.env)
    assert refused.status == 2
    assert "H minor" in refused.err
    assert "Traceback" not in refused.err


def test_a_midi_service_that_dies_and_comes_back_gets_its_ports_back(
    other_jack: Callable[..., JackServer], tmp_path: Path
) -> None:
    server = other_jack(in_step=False)
    with Running(tmp_path, SETTINGS, server.env) as running:
        running.tell("note", "on", "D4")
        wait_until(lambda: "undersong link" in "".join(ports(server.name)), "the watch", step_s=0.2)
        server.kill()
        wait_until(lambda: "MIDI service" in inputs_of(running), "the news", step_s=0.1)
        assert running.status()["ok"]
        server.start()
        wait_until(lambda: open_outputs(running) == 2, "open ports", step_s=0.1)
        assert set(ports(server.name)) >= {KEYS_IN, THROUGH, ANSWER}


def inputs_of(running: Running) -> str:
    return " ".join(port["state"] for port in running.status()["inputs"])


def test_quit_ends_it_and_the_ports_are_gone(running: Running) -> None:
    running.tell("quit")
    assert running.process.wait(20).status == 0
    assert not running.link.exists()
    listed = subprocess.run(["jack_lsp"], capture_output=True, text=True, check=True).stdout
    assert "undersong" not in listed
    assert ANSWER not in listed
