from __future__ import annotations

import socket
from pathlib import Path

import pytest

from live.faces.window import display


def test_nothing_set_is_one_sentence() -> None:
    reason = display.missing({}, "linux")
    assert "DISPLAY" in reason
    assert "\n" not in reason


@pytest.mark.parametrize("platform", ["win32", "darwin"])
def test_elsewhere_there_always_is_one(platform: str) -> None:
    assert display.missing({}, platform) == ""


def test_offscreen_needs_none() -> None:
    assert display.missing({"QT_QPA_PLATFORM": "offscreen"}, "linux") == ""


@pytest.mark.parametrize("shown", [":4711", "nonsense", "localhost:987"])
def test_a_display_that_does_not_answer_is_told_before_qt_ends_the_process(shown: str) -> None:
    reason = display.missing({"DISPLAY": shown}, "linux")
    assert f"DISPLAY={shown}" in reason


def test_a_wayland_socket_that_answers_is_a_display(tmp_path: Path) -> None:
    with socket.socket(socket.AF_UNIX) as server:
        server.bind(str(tmp_path / "wayland-7"))
        server.listen()
        environ = {"WAYLAND_DISPLAY": "wayland-7", "XDG_RUNTIME_DIR": str(tmp_path)}
        assert display.missing(environ, "linux") == ""
    assert "WAYLAND_DISPLAY=wayland-7" in display.missing(environ, "linux")


def test_the_library_that_qt_needs_is_looked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(display, "_x11_answers", lambda _: True)
    monkeypatch.setattr(display, "_loads", lambda _: False)
    assert "libxcb-cursor0" in display.missing({"DISPLAY": ":0"}, "linux")
