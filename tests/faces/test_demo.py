"""`demo` end to end, and its files read by other libraries."""

from __future__ import annotations

import struct
import sys
import wave

import mido
import numpy as np
import pretty_midi
import pytest

from live.faces.ferry_files import with_drums
from live.ports.files import read_song
from tests.processes import run


def png_size(path):
    """Width and height of a PNG (ISO/IEC 15948: signature, then the IHDR chunk)."""
    head = path.read_bytes()[:24]
    assert head[:8] == b"\x89PNG\r\n\x1a\n"
    assert head[12:16] == b"IHDR"
    return struct.unpack(">II", head[16:24])


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """The folder and what was said, by the command as a process."""
    out = tmp_path_factory.mktemp("demo") / "ferry"
    return out, run([sys.executable, "-m", "live", "demo", "--out", str(out)], timeout_s=120)


def test_it_ends_well_and_names_its_files(demo):
    out, ended = demo
    assert (ended.status, ended.err) == (0, "")
    for kind in ("mid", "wav", "png"):
        assert f"written to {out / f'night-ferry.{kind}'}" in ended.out
    assert sorted(p.name for p in out.iterdir()) == [
        "night-ferry.mid", "night-ferry.png", "night-ferry.wav",
    ]  # fmt: skip


def test_the_midi_file(demo):
    out, _ = demo
    file = mido.MidiFile(out / "night-ferry.mid")
    metas = {m.type: m for track in file.tracks for m in track if m.is_meta}
    assert file.type == 1
    assert mido.tempo2bpm(metas["set_tempo"].tempo) == pytest.approx(168.0, abs=0.001)
    assert metas["key_signature"].key == "Dm"
    assert [t.name for t in file.tracks][1:] == ["played", "through", "answer"]
    parts = {
        i.name: i.notes for i in pretty_midi.PrettyMIDI(str(out / "night-ferry.mid")).instruments
    }
    assert len(parts["played"]) == len(parts["through"]) == 48
    bar_s = 4 * 60 / 168
    assert all(int(note.start / bar_s + 0.001) % 4 in (2, 3) for note in parts["answer"])
    markers = [m.text for track in file.tracks for m in track if m.type == "marker"]
    assert [m for m in markers if m.startswith("call")] == [f"call {n}" for n in (1, 2, 3, 4)]


def test_the_sound(demo):
    out, _ = demo
    with wave.open(str(out / "night-ferry.wav")) as sound:
        assert (sound.getnchannels(), sound.getframerate(), sound.getsampwidth()) == (2, 48000, 2)
        length_s = sound.getnframes() / 48000
        samples = np.frombuffer(sound.readframes(sound.getnframes()), "<i2") / 32768
    assert 16 * 4 * 60 / 168 - 1 < length_s < 16 * 4 * 60 / 168 + 6
    assert 0.01 < np.abs(samples).max() <= 10 ** (-12 / 20) + 1 / 32768  # the limiter's ceiling


def test_the_picture(demo):
    out, _ = demo
    width, height = png_size(out / "night-ferry.png")
    assert width == 1520  # 760 pixels at twice the size (the window's design page)
    assert height > 400


def test_drums_go_under_what_sounded_not_what_was_pressed(demo):
    out, _ = demo
    song = with_drums(read_song(out / "night-ferry.mid"), "two-step")
    names = {song.tracks[note.track] for note in song.notes}
    assert names == {"through", "answer", "drums"}
    # General MIDI Level 1 percussion: 36 bass drum 1, 38 acoustic snare, 42 closed hi-hat.
    assert {n.pitch for n in song.notes if n.channel == 9} == {36, 38, 42}


def test_json(cli, tmp_path):
    found = cli("demo", "--out", tmp_path / "a", "--json").json
    assert (found["key"], found["tempo"]) == ("D minor", 168.0)
    assert [m["pressed"] for m in found["moved"]] == [68, 71, 63, 61, 73]
    assert found["moved"][0] == {
        "pressed": 68, "sounding": 69, "degree": "5", "at": "bar 1 beat 4.5",
    }  # fmt: skip
    assert len(found["answers"]) == 4
    assert len(found["files"]) == 3


def test_it_may_be_run_again_into_the_same_folder(cli, tmp_path):
    for _ in range(2):
        assert cli("demo", "--out", tmp_path / "a").code == 0


def test_the_default_folder(cli, home):
    assert cli("demo").code == 0
    assert (home / "demo-out" / "night-ferry.mid").exists()


def test_without_a_window_library_it_says_what_is_missing(shell, home):
    # The error that Python gives when PyQt6 is there and a system library it needs is not.
    fake = home / "fake" / "PyQt6"
    fake.mkdir(parents=True)
    missing = "libEGL.so.1: cannot open shared object file: No such file or directory"
    (fake / "__init__.py").write_text("")
    (fake / "QtCore.py").write_text(f"raise ImportError({missing!r})")
    ended = shell("demo", "--out", home / "a", env={"PYTHONPATH": str(home / "fake")})
    assert ended.status == 0
    assert ended.err.count("\n") == 1
    assert ended.err.startswith("No picture")
    assert missing in ended.err
    assert sorted(p.suffix for p in (home / "a").iterdir()) == [".mid", ".wav"]


def test_a_window_library_that_crashes_does_not_take_the_demo_with_it(shell, home):
    fake = home / "fake" / "PyQt6"
    fake.mkdir(parents=True)
    (fake / "__init__.py").write_text("")
    (fake / "QtCore.py").write_text("import os; os.abort()")
    ended = shell("demo", "--out", home / "a", env={"PYTHONPATH": str(home / "fake")})
    assert ended.status == 0
    assert ended.err.startswith("No picture")
    assert "Traceback" not in ended.err


def test_a_folder_that_cannot_be_made(cli, tmp_path):
    (tmp_path / "file").write_text("")
    code, _, err = cli("demo", "--out", tmp_path / "file")
    assert code == 2
    assert err.startswith("undersong: folder: got ")
