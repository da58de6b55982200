"""The service files: systemd has nothing to say, their command lines are ours, SIGTERM is clean."""

from __future__ import annotations

import os
import plistlib
import re
import shutil
import signal
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from live.faces.parser import build_parser
from tests.hearing import Receiver
from tests.jackworld import Player
from tests.processes import Ended
from tests.running import KEYS_IN, THROUGH, Running

ROOT = Path(__file__).resolve().parents[2]
UNIT = ROOT / "configs" / "undersong.service"
AGENT = ROOT / "configs" / "undersong.plist"
COMMAND = "%h/.local/bin/undersong"

RULES = {
    "Unit": {  # systemd.unit(5)
        "Description": r".+",
        "Documentation": r"((https?|file|info|man):\S+ ?)+",
        "After": r"([\w@.-]+\.(service|target|socket) ?)+",
        "StartLimitIntervalSec": r"\d+",
        "StartLimitBurst": r"\d+",
    },
    "Service": {  # systemd.service(5), KillMode and KillSignal: systemd.kill(5)
        "Type": r"simple|exec|forking|oneshot|dbus|notify|notify-reload|idle",
        "ExecStart": r"(%h)?/\S+( \S+)*",
        "ExecReload": r"(%h)?/\S+( \S+)*",
        "KillMode": r"control-group|mixed|process|none",
        "KillSignal": r"SIG[A-Z0-9]+",
        "TimeoutStopSec": r"\d+",
        "Restart": r"no|always|on-(success|failure|abnormal|abort|watchdog)",
        "RestartSec": r"\d+",
        "RestartPreventExitStatus": r"(\d+|SIG[A-Z0-9]+)( (\d+|SIG[A-Z0-9]+))*",
    },
    "Install": {"WantedBy": r"[\w.-]+\.target"},  # systemd.unit(5)
}
"""The sections and keys that we use, each with the values its manual page allows."""

AGENT_KEYS = {  # launchd.plist(5)
    "Label": str,
    "ProgramArguments": list,
    "RunAtLoad": bool,
    "KeepAlive": dict,
    "ThrottleInterval": int,
    "ExitTimeOut": int,
    "ProcessType": str,
    "StandardErrorPath": str,
}


def entries(text: str) -> list[tuple[str, str, str]]:
    """(section, key, value) of a unit: `[Section]`, `Key=value`, comments (systemd.syntax(7))."""
    found, section = [], ""
    for line in text.splitlines():
        if re.fullmatch(r"\s*([#;].*)?", line):
            continue
        header = re.fullmatch(r"\[(\w+)\]", line)
        if header:
            section = header[1]
            continue
        key, equals, value = line.partition("=")
        found.append((section, key if equals else f"{key} (no =)", value))
    return found


def problems_by_rules(text: str) -> list[str]:
    """What is wrong with a unit, by the manual pages."""
    wrong = []
    for section, key, value in entries(text):
        rule = RULES.get(section, {}).get(key)
        if rule is None:
            wrong.append(f"[{section}] {key} is not known")
        elif not re.fullmatch(rule, value):
            wrong.append(f"[{section}] {key}={value} is not allowed")
    return wrong


def problems_by_systemd(unit: Path, folder: Path, run_command: Callable[..., Ended]) -> list[str]:
    """What systemd says of a unit in a home where our command is installed."""
    home, runtime = folder / "home", folder / "run"
    program = home / ".local" / "bin" / "undersong"
    program.parent.mkdir(parents=True)
    runtime.mkdir()
    program.write_text("#!/bin/sh\n", encoding="utf-8")
    program.chmod(0o755)
    env = {"HOME": str(home), "XDG_RUNTIME_DIR": str(runtime)}
    command = ["systemd-analyze", "verify", "--user", "--man=no", str(unit)]
    ended = run_command(command, env=env)
    said = (ended.out + ended.err).splitlines()
    return said or ([f"exit status {ended.status}"] if ended.status else [])


def test_the_unit_is_sound(tmp_path: Path, run_command: Callable[..., Ended]) -> None:
    """By systemd itself where it is installed, by its manual pages everywhere."""
    assert problems_by_rules(UNIT.read_text(encoding="utf-8")) == []
    if shutil.which("systemd-analyze"):
        assert problems_by_systemd(UNIT, tmp_path, run_command) == []


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ("KillMode=mixed", "KillMood=mixed"),
        ("Restart=on-failure", "Restart=sometimes"),
        ("RestartSec=2", "RestartSec=soon"),
        ("[Install]", "[Instal]"),
        (f"ExecStart={COMMAND}", "ExecStart=undersong"),
        ("Type=exec", "Type"),
    ],
)
def test_a_unit_that_is_not_sound_is_told(right: str, wrong: str) -> None:
    text = UNIT.read_text(encoding="utf-8")
    assert text.count(right) == 1
    assert len(problems_by_rules(text.replace(right, wrong))) >= 1


def command_lines() -> list[list[str]]:
    lines = [
        value.split()
        for _, key, value in entries(UNIT.read_text(encoding="utf-8"))
        if key.startswith("Exec")
    ]
    with AGENT.open("rb") as file:
        return [*lines, plistlib.load(file)["ProgramArguments"]]


@pytest.mark.parametrize("line", command_lines(), ids=" ".join)
def test_a_command_line_is_one_of_ours(line: list[str]) -> None:
    program, *words = line
    assert program.endswith("/.local/bin/undersong")
    args = build_parser().parse_args(words)
    assert args.run in ("live.faces.start:run_headless", "live.faces.tell_cli:run")
    if words[0] == "tell":
        from live.daemon.commands import read_command

        assert read_command(args.order, args.values).special == "reload"


def test_the_signal_and_its_time_are_ours() -> None:
    values = {key: value for _, key, value in entries(UNIT.read_text(encoding="utf-8"))}
    assert (values["KillSignal"], values["KillMode"]) == ("SIGTERM", "mixed")
    # The supervisor waits 5 s for the engine, then 1 s each for composer and sound (Staff.end).
    assert int(values["TimeoutStopSec"]) > 5 + 1 + 1
    assert values["RestartPreventExitStatus"] == "2"


def test_the_agent_is_a_property_list_that_launchd_knows() -> None:
    with AGENT.open("rb") as file:
        agent = plistlib.load(file)
    assert {key: type(value) for key, value in agent.items()} == AGENT_KEYS
    assert agent["KeepAlive"] == {"SuccessfulExit": False}
    assert agent["ProcessType"] in ("Adaptive", "Background", "Interactive", "Standard")
    assert agent["RunAtLoad"] is True


def test_a_wrong_settings_file_ends_with_the_status_that_is_not_tried_again(
    tmp_path: Path, run_command: Callable[..., Ended]
) -> None:
    wrong = tmp_path / "wrong.toml"
    wrong.write_text("[play]\nkey = 3\n", encoding="utf-8")
    ended = run_command([sys.executable, "-m", "live", "headless", "--config", str(wrong)])
    assert ended.status == 2
    assert "play.key" in ended.err


@pytest.mark.jack
def test_stopped_as_systemd_does_it_nothing_sounds_on(jack_server: None, tmp_path: Path) -> None:
    """SIGTERM to the supervisor alone while notes and a pedal are down (KillMode=mixed)."""
    quiet = "[time]\nstart_on_first_note = false\n"
    with Running(tmp_path, quiet) as running, Player("pad", ins=("through",)) as pad:
        pad.connect(pad.port("out"), KEYS_IN)
        pad.connect(THROUGH, pad.port("through"))
        for data in (b"\x90\x3c\x50", b"\x90\x40\x50", b"\xb0\x40\x7f"):
            pad.send(data)
        pad.wait_for(3)
        os.kill(running.process.pid, signal.SIGTERM)
        assert running.process.wait(15).status == 0
        heard = [one.data for one in pad.wait_for_quiet()]
        receiver = Receiver()
        receiver.hear(heard)
        assert receiver.ons == [60, 64]
        assert receiver.held == []
        assert b"\xb0\x40\x00" in heard
