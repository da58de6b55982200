"""What the tests of the command line share: a home of their own, the command, a call to answer."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import pytest

from live.faces.cli import main
from live.notes.phrase import PhraseNote
from live.ports.files import TrackOut, write_song
from live.theory.keys import parse_key
from tests.processes import Ended, run

ROOT = Path(__file__).resolve().parents[2]

# A call of two bars in D minor at 168 BPM, a note every half beat: C#5 and F#4 lie outside.
CALL_PITCHES = (62, 65, 66, 69, 70, 73, 74, 72, 69, 67, 65, 64, 62)


class Spoken(NamedTuple):
    """What a command said and how it ended."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out)


@pytest.fixture
def home(tmp_path, monkeypatch) -> Path:
    """A user of our own: no settings, no takes, no daemon."""
    monkeypatch.setenv("HOME", str(tmp_path))
    for name in ("CONFIG", "DATA", "CACHE", "STATE"):
        monkeypatch.setenv(f"XDG_{name}_HOME", str(tmp_path / name.lower()))
    monkeypatch.setenv("UNDERSONG_LINK", str(tmp_path / "link"))
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setenv("UNDERSONG_TRACE", "1")  # a fault of ours fails the test
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def cli(home, capsys) -> Callable[..., Spoken]:
    """Run a command in this process: cli("key", path) -> Spoken."""

    def call(*argv: object) -> Spoken:
        code = main([str(word) for word in argv])
        return Spoken(code, *capsys.readouterr())

    return call


@pytest.fixture
def shell(home) -> Callable[..., Ended]:
    """Run a command as a process: shell("key", path) -> Ended."""

    def call(*argv: object, **kwargs: Any) -> Ended:
        command = [sys.executable, "-m", "live", *(str(word) for word in argv)]
        return run(command, cwd=str(ROOT), **kwargs)

    return call


@pytest.fixture
def call_mid(tmp_path) -> Path:
    """A MIDI file with the call and a drum note."""
    path = tmp_path / "call.mid"
    notes = tuple(PhraseNote(i * 480, 400, p, 90) for i, p in enumerate(CALL_PITCHES))
    drums = TrackOut("drums", 9, (PhraseNote(0, 100, 37, 100),))
    key = parse_key("D minor")
    write_song(path, [TrackOut("keys", 0, notes), drums], tempo_bpm=168.0, key=key)
    return path
