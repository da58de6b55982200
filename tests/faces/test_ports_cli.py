"""`ports` on drivers in memory, on a served link, and without any MIDI service."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from live.clock.manual import ManualClock
from live.daemon.link_server import LinkServer
from live.daemon.port_plan import port_plan
from live.daemon.settings import defaults, settings_path
from live.faces.ports_cli import plan_rows
from live.ports import rt
from live.ports.api import PortError
from live.ports.memory import MemoryDriver, MemoryHub


@pytest.fixture
def driver():
    """A service with a keyboard, a loopback and a synthesiser on it."""
    hub = MemoryHub(ManualClock(0))
    others = MemoryDriver(hub, "Grand 88")
    others.open_output("keys", virtual=True)
    MemoryDriver(hub, "Midi Through").open_output("0", virtual=True)
    MemoryDriver(hub, "Loud Synth").open_input("in", virtual=True, deliver=lambda *_: None)
    return MemoryDriver(hub, "undersong")


def rows(found, direction):
    return [(row["role"], row["name"], row["used"]) for row in found[direction]]


def test_what_would_be_used_and_what_not(driver):
    found = plan_rows(port_plan(defaults()), driver)
    assert rows(found, "inputs") == [
        ("keys in", "", True),
        ("clock in", "", True),
        ("keys in", "Grand 88 keys:keys", True),
        ("", "Midi Through 0:0", False),
    ]
    assert rows(found, "outputs") == [
        ("through", "", True),
        ("answer", "", True),
        ("", "Loud Synth in:in", False),
    ]
    assert found["loops"] == ["Midi Through 0:0"]
    reasons = {row["name"]: row["reason"] for row in found["inputs"]}
    assert reasons["Grand 88 keys:keys"] == "a keyboard"
    assert reasons["Midi Through 0:0"].startswith("returns what is sent to it")


def test_ports_named_in_the_settings(driver):
    changes = {
        "ports.keyboards": ["grand", "not there"],
        "ports.through": "Loud Synth",
        "ports.answer": "Deep Synth",
    }
    found = plan_rows(port_plan(defaults().changed(changes)), driver)
    assert ("keys in", "Grand 88 keys:keys", True) in rows(found, "inputs")
    assert ("keys in", "not there", False) in rows(found, "inputs")
    assert rows(found, "outputs") == [
        ("through", "Loud Synth in:in", True),
        ("answer", "Deep Synth", False),
    ]
    missing = next(row for row in found["outputs"] if row["name"] == "Deep Synth")
    assert "No port fits 'Deep Synth'" in missing["reason"]


def test_the_command_without_a_daemon(cli, monkeypatch, driver):
    monkeypatch.setattr(rt, "open_driver", lambda *_: driver)
    found = cli("ports", "--json").json
    assert found["state"].startswith("no daemon runs")
    assert len(found["inputs"]) == 4


def test_the_routing_as_text_and_as_data(cli, monkeypatch, driver):
    monkeypatch.setattr(rt, "open_driver", lambda *_: driver)
    monkeypatch.setattr(driver, "close", lambda: None)  # it is asked twice
    text = """
    [ports]
    own_outputs = ["low"]
    outputs = ["Loud Synth"]
    [[zone]]
    name = "left hand"
    role = "bass call"
    range = "A0:B2"
    output = "low"
    out_channel = 2
    [[zone]]
    name = "right hand"
    range = "B2:C8"
    [[route]]
    input = "return"
    output = "Loud Synth"
    """
    path = settings_path()
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    lines = cli("ports").out.splitlines()
    shown = lines[lines.index("routing:") + 1 : -2]
    assert [line.split("  ")[0] for line in shown] == [" any input"] * 4 + [" return", " the bass"]
    assert "left hand: the bass call, snap as set" in shown[0]
    assert [line.split("-> ")[1] for line in shown] == [
        "low, channel 2", "through", "through", "through", "Loud Synth", "answer, channel 1",
    ]  # fmt: skip
    assert lines[-2] == "note: 'left hand' and 'right hand' overlap on B2: 'left hand' is used"
    found = cli("ports", "--json").json
    assert [row["output"] for row in found["routing"]] == [
        "low", "through", "through", "through", "Loud Synth", "answer",
    ]  # fmt: skip
    assert ("return", "", True) in rows(found, "inputs")
    assert ("Loud Synth", "Loud Synth in:in", True) in rows(found, "outputs")
    assert len(found["routing_notes"]) == 1


def test_text(cli, monkeypatch, driver):
    monkeypatch.setattr(rt, "open_driver", lambda *_: driver)
    lines = cli("ports").out.splitlines()
    assert lines[1] == "inputs:"
    assert any(line.split()[:4] == ["*", "keys", "in", "Grand"] for line in lines)
    assert lines[-1] == "loops: Midi Through 0:0"


def test_no_midi_service_is_one_sentence_and_1(cli, monkeypatch):
    def refuse(*_):
        raise PortError("No MIDI service can be reached (none).")

    monkeypatch.setattr(rt, "open_driver", refuse)
    expected = (1, "", "undersong: No MIDI service can be reached (none).\n")
    assert cli("ports") == expected
    assert cli("ports", "--json") == expected


def test_a_running_daemon_is_asked(cli):
    inputs = [
        {"role": "keys in", "name": "undersong keys in:keys in", "state": "open", "reason": "ours"},
        {"role": "keys in", "name": "Grand 88", "state": "waiting", "reason": "unplugged"},
    ]
    server = LinkServer(
        Path(os.environ["UNDERSONG_LINK"]),
        lambda face, *_: server.reply(face, {"ok": True, "inputs": inputs, "outputs": []}),
    )
    try:
        found = cli("ports", "--json").json
        text = cli("ports").out
    finally:
        server.close()
    assert found["state"] == "in use by the running daemon"
    assert rows(found, "inputs") == [
        ("keys in", "undersong keys in:keys in", True),
        ("keys in", "Grand 88", False),
    ]
    assert found["inputs"][1]["reason"] == "waiting: unplugged"
    assert "waiting: unplugged" in text
    assert found["loops"] == []


@pytest.mark.jack
def test_real_ports(shell, jack_server):
    ended = shell("ports", "--json")
    assert ended.status == 0
    assert '"no daemon runs; it would use jack"' in ended.out
