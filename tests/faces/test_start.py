"""Plain `undersong` and `headless`: which process is started when, and a real daemon run."""

from __future__ import annotations

import importlib.util
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from live.daemon import supervisor
from live.faces import start
from live.faces.start import why_no_window
from tests.processes import wait_until

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def started(monkeypatch):
    """What the supervisor and child processes were asked for, none of them run."""
    asked: list[tuple] = []
    monkeypatch.setattr(
        supervisor,
        "run",
        lambda settings, for_s=None, *, window, config=None: asked.append(
            (settings["play.key"], for_s, window, config)
        ) or 0,
    )  # fmt: skip
    monkeypatch.setattr(
        subprocess,
        "run",
        lambda command, check: (
            asked.append(tuple(command[1:])) or subprocess.CompletedProcess([], 0)
        ),
    )
    return asked


@pytest.mark.parametrize(
    ("environment", "why"),
    [
        ({}, "there is no display"),
        ({"DISPLAY": ""}, "there is no display"),
        ({"DISPLAY": ":0"}, ""),
        ({"WAYLAND_DISPLAY": "wayland-0"}, ""),
        ({"QT_QPA_PLATFORM": "offscreen"}, ""),
    ],
)
def test_a_window_needs_a_display_on_linux(monkeypatch, environment, why):
    monkeypatch.setattr(sys, "platform", "linux")
    assert why_no_window(environment) == why


@pytest.mark.parametrize("platform", ["darwin", "win32"])
def test_elsewhere_there_always_is_one(monkeypatch, platform):
    monkeypatch.setattr(sys, "platform", platform)
    assert why_no_window({}) == ""


def test_a_window_needs_pyqt(monkeypatch):
    monkeypatch.setattr(importlib.util, "find_spec", lambda _name: None)
    assert why_no_window({"DISPLAY": ":0"}).startswith("PyQt6 is not installed")


def test_plain_starts_daemon_and_window(cli, monkeypatch, started):
    monkeypatch.setenv("DISPLAY", ":0")
    assert cli() == (0, "", "")
    assert started == [("A minor", None, True, None)]


def test_plain_without_a_display_says_so_and_goes_on(cli, started):
    code, out, err = cli()
    assert (code, out) == (0, "")
    assert err == "Going on without a window: there is no display.\n"
    assert started == [("A minor", None, False, None)]


def test_plain_with_a_daemon_opens_only_the_window(cli, monkeypatch, started):
    monkeypatch.setattr(start, "daemon_runs", lambda: True)
    monkeypatch.setenv("DISPLAY", ":0")
    assert cli().code == 0
    assert started == [("-m", "live.faces.window")]


def test_plain_with_a_daemon_and_no_display(cli, monkeypatch, started):
    monkeypatch.setattr(start, "daemon_runs", lambda: True)
    code, _, err = cli()
    assert (code, err) == (1, "A daemon runs already, and there is no display.\n")
    assert started == []


def test_headless_takes_settings_and_a_length(cli, tmp_path, started):
    config = tmp_path / "mine.toml"
    config.write_text('[play]\nkey = "F# dorian"\n')
    assert cli("headless", "--config", config, "--for", "2.5").code == 0
    assert started == [("F# dorian", 2.5, False, config)]


def test_plain_takes_the_same(cli, monkeypatch, tmp_path, started):
    monkeypatch.setenv("DISPLAY", ":0")
    config = tmp_path / "mine.toml"
    config.write_text('[play]\nkey = "F# dorian"\n')
    assert cli("--config", config, "--for", "2.5").code == 0
    assert cli("--config", config, "--set", "play.key=F minor").code == 0
    assert cli("--set", "play.key=C minor").code == 0
    assert started == [
        ("F# dorian", 2.5, True, config),
        ("F minor", None, True, config),
        ("C minor", None, True, None),
    ]
    assert cli("--set", "play.key=H minor").code == 2
    assert cli("--for", "soon").code == 2
    assert len(started) == 3


@pytest.mark.parametrize(
    "words", [("--config", "x.toml"), ("--set", "play.key=C minor"), ("--for", "1")]
)
def test_with_a_daemon_they_are_refused_rather_than_passed_over(cli, monkeypatch, started, words):
    monkeypatch.setattr(start, "daemon_runs", lambda: True)
    monkeypatch.setenv("DISPLAY", ":0")
    code, _, err = cli(*words)
    assert code == 1
    assert "runs already" in err
    assert "undersong tell set" in err
    for command in (("ports",), ("headless", "--for", "1")):
        code, _, err = cli(*words, *command)
        assert code == 2
        assert "go after the command" in err
    assert started == []


def test_a_bad_settings_file_names_its_line(cli, tmp_path, started):
    config = tmp_path / "mine.toml"
    config.write_text('[play]\nkey = "D minor"\nsnap = "sideways"\n')
    code, _, err = cli("headless", "--config", config)
    assert code == 2
    assert err.startswith("undersong: play.snap (line 3): got 'sideways'; allowed: nearest, ")
    assert started == []


def test_headless_for_a_while_ends_by_itself(shell, home):
    began_s = time.monotonic()
    ended = shell("headless", "--for", "1", timeout_s=30)
    assert ended.status == 0
    assert time.monotonic() - began_s >= 1.0
    assert "Traceback" not in ended.err


def has_ports(cli) -> bool:
    status = cli("tell", "status", "--json")
    return status.code == 0 and len(status.json["outputs"]) == 2


@pytest.mark.jack
def test_a_real_daemon_from_the_command_line(cli, home, start_command, jack_server, call_mid):
    command = [sys.executable, "-m", "live", "headless", "--for", "100"]
    daemon = start_command(command, env=dict(os.environ), cwd=str(ROOT))
    try:
        wait_until(lambda: has_ports(cli), "the daemon and its ports", 60, step_s=0.2)
    except AssertionError as error:
        raise AssertionError(daemon.story(str(error))) from None
    status = cli("tell", "status", "--json").json
    # The design's contract for `tell status --json`.
    assert set(status) >= {
        "key", "snap", "tempo", "clock", "playing", "bar", "beat", "chord", "held", "sounding",
        "answer_state", "inputs", "outputs", "lost", "late_ms_p99",
    }  # fmt: skip
    assert status["clock"] in ("internal", "following")
    assert cli("tell", "key", "F# dorian").code == 0
    assert cli("tell", "tempo", "168").code == 0
    assert cli("tell", "form", "2", "2").code == 0
    assert cli("tell", "snap", "sideways").code == 2
    assert cli("tell", "progression", "i iv").code == 0

    def changed():
        status = cli("tell", "status", "--json").json
        return (status["key"], status["tempo"], status["snap"]) == ("F# dorian", 168.0, "nearest")

    wait_until(changed, "the changes to show")
    assert "F♯ dorian" in cli("tell", "status").out
    ports = cli("ports", "--json").json
    assert {row["role"] for row in ports["inputs"]} >= {"keys in", "clock in"}
    assert {row["role"] for row in ports["outputs"]} == {"through", "answer"}
    second = cli("headless", "--for", "1")
    assert second.code == 1
    assert second.err.count("\n") == 1
    assert cli("tell", "start").code == 0
    wait_until(lambda: cli("tell", "status", "--json").json["playing"], "the start to show")
    assert cli("tell", "panic").code == 0
    assert cli("tell", "stop").code == 0
    wait_until(lambda: cli("takes", "list", "--json").json["takes"], "the take", step_s=0.1)
    assert cli("tell", "quit").code == 0
    assert daemon.wait(20).status == 0
    assert cli("tell", "status").code == 1


@pytest.mark.jack
def test_ctrl_c_ends_the_daemon_cleanly(cli, home, start_command, jack_server):
    command = [sys.executable, "-m", "live", "headless"]
    daemon = start_command(command, env=dict(os.environ), cwd=str(ROOT))
    wait_until(lambda: cli("tell", "status").code == 0, "the daemon", step_s=0.2)
    daemon.send_signal(signal.SIGINT)
    ended = daemon.wait(20)
    assert ended.status == 0
    assert "Traceback" not in ended.err
