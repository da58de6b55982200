"""A real window on a real X server, driven by mouse and keyboard, against a real link.

Covers failures seen with Qt programs: a display that is missing or dies, an exception in a slot,
Ctrl+C during the event loop, a place kept from a larger screen.
"""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from PyQt6.QtGui import QImage

from live.daemon.link_server import LinkServer
from live.daemon.snapshot import HeldView, Snapshot
from live.faces.window.layout import FULL
from live.faces.window.theme import DARK, LIGHT
from tests.faces.states import IDLE, snapshot_named
from tests.processes import Started, wait_until

pytestmark = pytest.mark.window
Start = Callable[..., Started]


class Daemon:
    """The daemon's end of the link: publishes what it is given, notes and answers commands."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.told: list[tuple[str, ...]] = []
        self.refusal = ""
        self.server = LinkServer(path, self._ask)

    def _ask(self, face: int, command: str, args: list[str]) -> None:
        self.told.append((command, *args))
        error = self.refusal
        self.server.reply(face, {"ok": False, "error": error} if error else {"ok": True})

    def publish(self, snapshot: Snapshot) -> None:
        self.server.publish(snapshot.to_json())

    def wait_for(self, *commands: tuple[str, ...]) -> None:
        wait_until(lambda: self.told == list(commands), f"{commands}, told {self.told}")


class Shown:
    """The window as the X server knows it."""

    def __init__(self, process: Started, display: str) -> None:
        self.process, self.display = process, display
        self.id = self._find()

    def _find(self) -> str:
        found: list[str] = []

        def search() -> bool:
            words = (
                "search",
                "--onlyvisible",
                "--pid",
                str(self.process.pid),
                "--name",
                "Undersong",
            )
            found[:] = self.tool("xdotool", *words, check=False).split()
            assert self.process.running, self.process.err
            return bool(found)

        wait_until(search, "the window", step_s=0.05)
        return found[0]

    def tool(self, *command: str, check: bool = True) -> str:
        environ = {**os.environ, "DISPLAY": self.display}
        ended = subprocess.run(
            command, check=check, env=environ, timeout=20, capture_output=True, text=True
        )
        return ended.stdout

    def focus(self) -> None:
        self.tool("xdotool", "windowfocus", "--sync", self.id)

    def key(self, *names: str) -> None:
        self.tool("xdotool", "key", "--delay", "40", *names)

    def type(self, text: str) -> None:
        self.tool("xdotool", "type", "--delay", "20", text)

    def click(self, x: float, y: float) -> None:
        spot = (str(round(x)), str(round(y)))
        self.tool("xdotool", "mousemove", "--window", self.id, *spot, "click", "1")

    def picture(self, folder: Path) -> QImage:
        path = folder / "window.png"
        self.tool("import", "-window", self.id, str(path))
        return QImage(str(path))

    def tones(self, folder: Path) -> set[str]:
        image = self.picture(folder)
        columns, rows = range(0, image.width(), 2), range(image.height())
        return {image.pixelColor(x, y).name() for x in columns for y in rows}


@pytest.fixture
def daemon(tmp_path: Path) -> Iterator[Daemon]:
    made = Daemon(tmp_path / "link")
    yield made
    made.server.close()


def environment(tmp_path: Path, display: str) -> dict[str, str | None]:
    return {
        "DISPLAY": display,
        "WAYLAND_DISPLAY": None,
        "QT_QPA_PLATFORM": None,
        "XDG_CONFIG_HOME": str(tmp_path / "config"),
    }


@pytest.fixture(autouse=True)
def _one_client_stays(screen: str, start_command: Start) -> None:
    """An X server starts anew when its last client leaves, and refuses new ones meanwhile."""
    client = start_command(["xprop", "-root", "-spy", "RESOURCE_MANAGER"])
    client.wait_for_text("RESOURCE_MANAGER")


@pytest.fixture
def open_window(
    screen: str, tmp_path: Path, start_command: Start, daemon: Daemon
) -> Callable[..., Shown]:
    def start(*options: str, code: str = "", display: str = screen) -> Shown:
        program = ["-c", code] if code else ["-m", "live.faces.window"]
        process = start_command(
            [sys.executable, *program, "--link", str(daemon.path), *options],
            env=environment(tmp_path, display),
        )
        shown = Shown(process, display)
        wait_until(lambda: daemon.server.watchers == 1, "the window to watch")
        return shown

    return start


@pytest.fixture
def shown(open_window: Callable[..., Shown], daemon: Daemon, tmp_path: Path) -> Shown:
    made = open_window("--theme", "dark")
    daemon.publish(snapshot_named("answer"))
    wait_until(lambda: DARK.answer in made.tones(tmp_path), "the answer on the screen")
    made.focus()
    return made


FOOT_Y = 249
ACTIONS_X = {"again": 580, "keep": 626, "hold": 673, "panic": 722}


@pytest.mark.parametrize("word", ACTIONS_X)
def test_clicking_the_words_sends_the_commands(shown: Shown, daemon: Daemon, word: str) -> None:
    shown.click(ACTIONS_X[word], FOOT_Y)
    daemon.wait_for((word,))


def test_it_is_above_other_windows(shown: Shown) -> None:
    states = shown.tool("xprop", "-id", shown.id, "_NET_WM_STATE")
    assert "_NET_WM_STATE_ABOVE" in states


def test_showing_it_does_not_take_the_focus(
    open_window: Callable[..., Shown], screen: str, start_command: Start
) -> None:
    def focused() -> str:
        ended = subprocess.run(
            ["xdotool", "getwindowfocus"], check=False, capture_output=True, text=True, timeout=10
        )
        return ended.stdout.strip()

    before = focused()
    open_window()
    assert focused() == before


def test_a_key_is_typed_and_a_refusal_is_shown_until_it_is_right(
    shown: Shown, daemon: Daemon
) -> None:
    daemon.refusal = "key: got 'H minor'; allowed: a tonic and a scale"
    shown.key("F1")
    shown.type("H minor")
    shown.key("Return")
    daemon.wait_for(("key", "H minor"))
    daemon.refusal = ""
    shown.key("ctrl+a")
    shown.type("F# dorian")
    shown.key("Return")
    daemon.wait_for(("key", "H minor"), ("key", "F# dorian"))
    shown.key("F9")  # the editor is gone again, or panic would have been typed into it
    daemon.wait_for(("key", "H minor"), ("key", "F# dorian"), ("panic",))


def test_a_key_is_edited_by_mouse(shown: Shown, daemon: Daemon) -> None:
    shown.click(30, FOOT_Y)
    shown.type("Bb major")
    shown.key("Return")
    daemon.wait_for(("key", "Bb major"))


def test_the_computer_keyboard_plays_notes_that_end(shown: Shown, daemon: Daemon) -> None:
    for letter in ("a", "w", "l"):
        shown.tool("xdotool", "keydown", letter)
        shown.tool("xdotool", "keyup", letter)
    pairs = [("note", way, note) for note in ("60", "61", "74") for way in ("on", "off")]
    daemon.wait_for(*pairs)


def test_space_plays_or_stops_and_never_presses_a_word(shown: Shown, daemon: Daemon) -> None:
    shown.key("space")
    daemon.wait_for(("stop",))


def test_a_note_lights_its_key_and_letting_go_puts_it_out(
    open_window: Callable[..., Shown], daemon: Daemon, tmp_path: Path
) -> None:
    shown = open_window("--theme", "light")
    daemon.publish(IDLE)
    wait_until(lambda: LIGHT.strip_high in shown.tones(tmp_path), "the strip")
    assert LIGHT.sounding not in strip_tones(shown, tmp_path)
    daemon.publish(replace(IDLE, held=(HeldView(65, 65),), sounding=(65,)))
    wait_until(lambda: LIGHT.sounding in strip_tones(shown, tmp_path), "a lit key")
    daemon.publish(IDLE)
    wait_until(lambda: LIGHT.sounding not in strip_tones(shown, tmp_path), "the key to go out")


def strip_tones(shown: Shown, folder: Path) -> set[str]:
    """Tones in the upper part of the strip, where no label is."""
    image = shown.picture(folder)
    scale = image.width() / FULL[0]
    rows = range(round(148 * scale), round(166 * scale))
    return {image.pixelColor(x, y).name() for x in range(image.width()) for y in rows}


def test_the_daemon_may_go_and_come_back(shown: Shown, daemon: Daemon, tmp_path: Path) -> None:
    daemon.server.close()
    wait_until(lambda: DARK.answer not in shown.tones(tmp_path), "the picture of no daemon")
    assert shown.process.running
    again = Daemon(daemon.path)
    try:
        wait_until(lambda: again.server.watchers == 1, "the window to come back")
        again.publish(snapshot_named("answer"))
        wait_until(lambda: DARK.answer in shown.tones(tmp_path), "the answer again")
    finally:
        again.server.close()
    assert shown.process.err == ""


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_ctrl_c_and_a_polite_kill_end_it_cleanly(shown: Shown, number: int) -> None:
    shown.process.send_signal(number)
    ended = shown.process.wait(2.0)
    assert (ended.status, ended.err) == (0, "")


CLOSING = """
import sys
from PyQt6.QtCore import QTimer
from live.faces.window import window
from live.faces.window.__main__ import main
show = window.Window.take_snapshot
def take_snapshot(self, snapshot):
    show(self, snapshot)
    QTimer.singleShot(0, self.close)
window.Window.take_snapshot = take_snapshot
sys.exit(main(sys.argv[1:]))
"""


def test_closing_the_window_ends_the_program(
    open_window: Callable[..., Shown], daemon: Daemon
) -> None:
    shown = open_window(code=CLOSING)
    daemon.publish(IDLE)
    ended = shown.process.wait(3.0)
    assert (ended.status, ended.err) == (0, "")


def test_notes_of_the_computer_keyboard_end_with_the_window(shown: Shown, daemon: Daemon) -> None:
    shown.tool("xdotool", "keydown", "d")
    try:
        daemon.wait_for(("note", "on", "64"))
        shown.process.send_signal(signal.SIGTERM)
        shown.process.wait(3.0)
        daemon.wait_for(("note", "on", "64"), ("note", "off", "64"))
    finally:
        shown.tool("xdotool", "keyup", "d")


RAISING = """
import sys
from live.faces.window import window
from live.faces.window.__main__ import main
real = window.Window.act
def act(self, word):
    if word == "keep":
        raise RuntimeError("a fault on purpose")
    real(self, word)
window.Window.act = act
sys.exit(main(sys.argv[1:]))
"""


def test_an_exception_in_a_slot_is_logged_and_everything_goes_on(
    open_window: Callable[..., Shown], daemon: Daemon, tmp_path: Path
) -> None:
    shown = open_window("--theme", "dark", code=RAISING)
    daemon.publish(snapshot_named("answer"))
    wait_until(lambda: DARK.answer in shown.tones(tmp_path), "the answer on the screen")
    shown.focus()
    shown.key("F7")
    shown.process.wait_for_text("a fault on purpose")
    assert "RuntimeError" in shown.process.err
    shown.key("F8")
    daemon.wait_for(("hold",))
    assert shown.process.running


def test_a_burst_of_snapshots_ends_with_the_newest_and_no_complaint(
    shown: Shown, daemon: Daemon, tmp_path: Path
) -> None:
    playing = snapshot_named("call")
    for step in range(3000):
        note = 48 + step % 36
        held = (HeldView(note, note),)
        daemon.publish(replace(playing, phrase_beats=step % 8, held=held, sounding=(note,)))
    daemon.publish(IDLE)
    wait_until(lambda: DARK.answer not in shown.tones(tmp_path), "the last snapshot")
    assert shown.process.err == ""


@pytest.fixture
def small_screen(screen: str) -> Iterator[tuple[subprocess.Popen[bytes], str]]:
    """A second X server, 640 x 480, that a test may kill."""
    read, write = os.pipe()
    server = subprocess.Popen(
        ["Xvfb", "-displayfd", str(write), "-screen", "0", "640x480x24", "-nolisten", "tcp",
         "-noreset"],
        pass_fds=(write,), stderr=subprocess.DEVNULL,
    )  # fmt: skip
    os.close(write)
    with os.fdopen(read) as told:
        number = told.readline().strip()
    assert number, "the second X server did not start"
    yield server, f":{number}"
    server.kill()
    server.wait()


def test_a_place_kept_from_a_larger_screen_is_brought_onto_this_one(
    open_window: Callable[..., Shown], small_screen, tmp_path: Path
) -> None:
    folder = tmp_path / "config" / "undersong"
    folder.mkdir(parents=True)
    (folder / "window.ini").write_text("[General]\nbox=3000 100 760 286\n")
    shown = open_window(display=small_screen[1])
    told = shown.tool("xwininfo", "-id", shown.id)

    def number(what: str) -> int:
        found = re.search(rf"{what}:\s+(-?\d+)", told)
        assert found
        return int(found[1])

    left, wide = number("Absolute upper-left X"), number("Width")
    assert left >= 0
    assert left + wide <= 640
    assert 0 <= number("Absolute upper-left Y") <= 480 - number("Height")


def test_the_window_ends_with_its_display_and_the_link_goes_on(
    open_window: Callable[..., Shown], small_screen, daemon: Daemon
) -> None:
    shown = open_window(display=small_screen[1])
    small_screen[0].kill()
    wait_until(lambda: not shown.process.running, "the window to end")
    assert daemon.server._thread.is_alive()


@pytest.mark.parametrize("display", [None, ":4711"])
def test_without_a_display_it_says_so_in_one_sentence(
    screen: str, tmp_path: Path, start_command: Start, display: str | None
) -> None:
    environ = {**environment(tmp_path, ""), "DISPLAY": display}
    ended = start_command([sys.executable, "-m", "live.faces.window"], env=environ).wait(10.0)
    assert ended.status == 1
    assert ended.err.startswith("undersong: no display")
    assert ended.err.count("\n") == 1


@pytest.mark.parametrize("factor", ["1", "1.25", "1.5", "2"])
def test_scale_factors_change_the_size_and_nothing_else(
    open_window: Callable[..., Shown], tmp_path: Path, daemon: Daemon, factor: str,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    monkeypatch.setenv("QT_SCALE_FACTOR", factor)
    (tmp_path / "config" / "undersong").mkdir(parents=True)
    ini = tmp_path / "config" / "undersong" / "window.ini"
    ini.write_text("[General]\nbox=8 40 480 210\n")
    shown = open_window("--theme", "dark")
    daemon.publish(snapshot_named("moved"))
    wait_until(lambda: DARK.answer in shown.tones(tmp_path), "the answer on the screen")
    image = shown.picture(tmp_path)
    assert abs(image.width() - 480 * float(factor)) <= 2
    tones = shown.tones(tmp_path)
    assert {DARK.ground, DARK.panel, DARK.sounding, DARK.answer, DARK.call} <= tones
