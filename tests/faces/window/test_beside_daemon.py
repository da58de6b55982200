"""The real window beside the real daemon: it shows what is played, and its end changes nothing."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import pytest

from live.daemon.link import LinkClient
from tests.hearing import Receiver
from tests.jackworld import Player
from tests.processes import Started, wait_until
from tests.running import KEYS_IN, THROUGH, Running
from tests.screenwatch import ScreenWatch

pytestmark = [pytest.mark.window, pytest.mark.jack]
SETTINGS = '[play]\nkey = "D minor"\n[time]\nstart_on_first_note = false\n'
DEGREE = (18, 12, 150, 110)
"""Where the degree stands in a window of the usual size."""


@pytest.fixture
def running(shared: Running, jack_server: None) -> Running:
    """A window may come and go: that changes nothing."""
    return shared


@pytest.fixture
def pad(running: Running) -> Iterator[Player]:
    with Player("pad") as one:
        one.connect(one.port("out"), KEYS_IN)
        one.connect(THROUGH, one.port("in"))
        yield one


CLOSING = """
import sys
from PyQt6.QtCore import QTimer
from live.faces.window import window
from live.faces.window.__main__ import main
shown = window.Window.showEvent
def close_soon(self, event):
    shown(self, event)
    QTimer.singleShot(1500, self.close)
window.Window.showEvent = close_soon
sys.exit(main(sys.argv[1:]))
"""
"""Closes the window as a click on its frame does; no window manager runs here to be clicked."""


@pytest.fixture
def window(
    screen: str,
    running: Running,
    start_command: Callable[..., Started],
    request: pytest.FixtureRequest,
) -> Started:
    program = getattr(request, "param", ["-m", "live.faces.window"])
    command = [sys.executable, *program, "--link", str(running.link)]
    env = {**running.env, "DISPLAY": screen, "WAYLAND_DISPLAY": None, "QT_QPA_PLATFORM": None}
    return start_command(command, env=env)


def number_of(window: Started) -> str:
    """The window's number at the X server."""
    found: list[str] = []

    def search() -> bool:
        words = ["search", "--onlyvisible", "--pid", str(window.pid), "--name", "Undersong"]
        ended = subprocess.run(["xdotool", *words], capture_output=True, text=True, check=False)
        found[:] = ended.stdout.split()
        return bool(found)

    wait_until(search, "the window", step_s=0.05)
    return found[0]


@contextmanager
def typing(window: Started, *letters: str) -> Iterator[None]:
    """Keys of the computer keyboard are down in a window."""
    number = number_of(window)
    time.sleep(1.0)  # it has begun to watch
    subprocess.run(["xdotool", "windowfocus", "--sync", number], check=True)
    for letter in letters:
        subprocess.run(["xdotool", "keydown", letter], check=True)
    try:
        yield
    finally:  # or the X server would type it into the windows of the tests that follow
        for letter in letters:
            subprocess.run(["xdotool", "keyup", letter], check=True)


def test_a_held_note_shows_its_degree_and_goes_again(window: Started, pad: Player) -> None:
    """The time is measured in tests/bench/bench_window.py."""
    with ScreenWatch(number_of(window), DEGREE) as watch:
        for note in (62, 65, 66, 69):
            for data in (bytes((0x90, note, 80)), bytes((0x80, note, 64))):
                time.sleep(0.15)  # the screen comes to rest
                pad.forget()
                pad.send(data)
                pad.wait_until_sent()
                watch.next_change(pad.sent()[0].at_ns)


@pytest.mark.parametrize(
    ("window", "killed"),
    [(["-c", CLOSING], False), (["-m", "live.faces.window"], True)],
    indirect=["window"],
    ids=["closed", "killed"],
)
def test_the_window_ends_and_notes_flow_on(
    window: Started, running: Running, pad: Player, *, killed: bool
) -> None:
    number_of(window)
    script = [(n * 0.004, bytes((0x90 - n % 2 * 16, 60 + n // 2 % 7, 80))) for n in range(500)]
    pad.play(script)
    pad.wait_for(50)
    if killed:
        window.send_signal(signal.SIGKILL)
    wait_until(lambda: not window.running, "the window's end")
    pad.wait_until_sent()
    receiver = Receiver()
    receiver.hear(one.data for one in pad.wait_for(500))
    assert (len(receiver.ons), receiver.held) == (250, [])
    assert running.status()["lost"] == 0


def test_a_window_that_is_killed_lets_go_of_the_keys_it_played(
    window: Started, running: Running, pad: Player
) -> None:
    with typing(window, "s"):
        pad.wait_for(1)
        window.send_signal(signal.SIGKILL)
        heard = pad.wait_for(2)
    assert [one.data[:2] for one in heard] == [b"\x90\x3e", b"\x80\x3e"]
    assert running.status()["held"] == []


@pytest.mark.parametrize("killed", [False, True], ids=["closed", "killed"])
def test_the_end_of_a_window_leaves_the_keys_of_another_alone(
    window: Started, running: Running, pad: Player, *, killed: bool
) -> None:
    """The other, a player on the link, holds one of the window's two notes and one of its own."""
    with LinkClient(running.link, plays=True) as other, typing(window, "s", "d"):
        pad.wait_for(2)
        other.tell("note", "on", "D4")
        other.tell("note", "on", "F4")
        pad.wait_for(5)
        window.send_signal(signal.SIGKILL if killed else signal.SIGTERM)
        wait_until(lambda: not window.running, "the window's end")
        wait_until(lambda: len(running.status()["held"]) == 2, "its keys are up", step_s=0.02)
        assert sorted(running.status()["held"]) == [62, 65]
        other.tell("note", "off", "D4")
        heard = pad.wait_for(7)
    receiver = Receiver()
    receiver.hear(one.data for one in heard)
    assert receiver.held == [(0, 65)]
    assert [one.data[:2] for one in heard[5:]] == [b"\x80\x40", b"\x80\x3e"]
    wait_until(lambda: running.status()["held"] == [], "the other's keys are up", step_s=0.02)
