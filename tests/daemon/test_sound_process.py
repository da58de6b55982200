from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from live.daemon.wire import read_frame, write_frame
from tests import sounds
from tests.processes import wait_until

RATE_HZ = 48_000
MS = 1_000_000
ROOT = Path(__file__).resolve().parents[2]
NO_SERVER = {"JACK_DEFAULT_SERVER": "no-such-server"}
DEVICE = "system, JACK Audio Connection Kit"
LIMIT_S = 30.0


class Running:
    """A sound process with pipes; killed at the end whatever it does."""

    def __init__(self, *arguments, env=None):
        command = ["timeout", "-s", "KILL", "60", sys.executable]
        self.process = subprocess.Popen(
            [*command, "-m", "live.daemon.sound_process", *arguments],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            bufsize=0,
            cwd=ROOT,
            env={**os.environ, **(env or {})},
        )
        self.frames = []

    def tell(self, *frame):
        write_frame(self.process.stdin, frame)

    def play(self, voice, data, ahead_ms=0):
        self.tell("event", time.monotonic_ns() + ahead_ms * MS, voice, data)

    def next(self, kind):
        """The next frame of a kind; what came before it is kept in `frames`."""
        while (frame := read_frame(self.process.stdout)) is not None:
            self.frames.append(frame)
            if frame[0] == kind:
                return frame
        raise AssertionError(f"no {kind!r} in {self.frames}: {self.process.stderr.read()}")

    @property
    def pid(self):
        """The sound process itself, the child of `timeout`."""
        children = f"/proc/{self.process.pid}/task/{self.process.pid}/children"
        return int(Path(children).read_text().split()[0])

    def end(self):
        """Wait for the end; returns exit status and standard error, the pipes closed."""
        self.process.stdin.close()
        status = self.process.wait(LIMIT_S)
        while (frame := read_frame(self.process.stdout)) is not None:
            self.frames.append(frame)
        return status, self.process.stderr.read().decode()

    def close(self):
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait(LIMIT_S)
        for pipe in (self.process.stdin, self.process.stdout, self.process.stderr):
            pipe.close()


@pytest.fixture
def start():
    started = []

    def begin(*arguments, env=None):
        started.append(Running(*arguments, env=env))
        return started[-1]

    yield begin
    for one in started:
        one.close()


class Recording:
    """Listens to the sound process through JACK."""

    def __init__(self, path):
        self.path = path
        self.process = subprocess.Popen(
            [sys.executable, ROOT / "tests/jackrecord.py", path, "PortAudio"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            bufsize=0,
        )
        assert self.process.stdout.readline() == b"recording\n"

    def wait_for(self, seconds):
        """Wait until so much sound has come, however slowly a busy machine's server runs."""
        self.process.stdin.write(b"%d\n" % round(seconds * RATE_HZ))
        assert self.process.stdout.readline() == b"recorded\n"

    def finish(self):
        self.process.stdin.close()
        assert self.process.wait(LIMIT_S) == 0
        return np.load(self.path)

    def close(self):
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait(LIMIT_S)
        self.process.stdin.close()
        self.process.stdout.close()


@pytest.fixture
def record(tmp_path):
    started = []

    def begin():
        started.append(Recording(tmp_path / f"{len(started)}.npy"))
        return started[-1]

    yield begin
    for recording in started:
        recording.close()


def check_limits(sound):
    assert np.isfinite(sound).all()
    assert sounds.peak(sound) <= sounds.CEILING
    assert sounds.largest_step(sound) <= sounds.STEP


def test_without_a_device_it_says_so_in_one_sentence_and_ends_well(start):
    running = start(env=NO_SERVER)
    status, err = running.end()
    assert running.frames == [("silent", "There is no sound because no sound device was found.")]
    assert (status, err) == (0, "")


def test_a_device_that_did_not_come_back_is_named(start):
    running = start("--device", DEVICE, "--until", "0", env=NO_SERVER)
    status, err = running.end()
    (frame,) = running.frames
    assert frame[0] == "silent"
    assert f"'{DEVICE}' went away" in frame[1]
    assert (status, err) == (0, "")


def test_nobody_to_tell_is_no_traceback(start):
    running = start(env=NO_SERVER)
    running.process.stdout.close()
    assert running.process.wait(LIMIT_S) == 0
    assert running.process.stderr.read() == b""


@pytest.mark.parametrize("level", ["0", "-61", "nan", "loud"])
def test_a_level_out_of_range_is_refused(start, level):
    status, err = start("--level", level).end()
    assert status == 2
    assert "level" in err
    assert "Traceback" not in err


PLAYED = (
    (0, "keys", (0x90, 69, 110)),
    (1_000, "keys", (0x80, 69, 64)),
    (1_500, "bass", (0x90, 28, 110)),
    (2_500, "bass", (0x80, 28, 64)),
    (2_750, "drums", (0x99, 42, 120)),
    (3_107, "drums", (0x99, 42, 120)),  # a beat at 168 BPM later: 357 ms
)
"""(ms from the beginning, voice, message)."""


@pytest.mark.jack
def test_what_jack_hears_is_in_tune_in_time_and_within_the_limits(start, record, jack_server):
    running = start("--level", "-18")
    kind, device, rate_hz, latency_s = running.next("ready")
    assert (kind, device, rate_hz) == ("ready", DEVICE, RATE_HZ)
    assert 0 < latency_s < 0.1
    recording = record()
    recording.wait_for(0.1)
    begun_ns = time.monotonic_ns() + 400 * MS
    for start_ms, voice, data in PLAYED:
        running.tell("event", begun_ns + start_ms * MS, voice, bytes(data))
    recording.wait_for(4.5)
    running.tell("quit")
    status, err = running.end()
    sound = recording.finish()
    assert (status, err) == (0, "")
    check_limits(sound)
    np.testing.assert_array_equal(sound[:, 0], sound[:, 1])
    mono = sound[:, 0]
    begin = int(np.flatnonzero(mono)[0])
    assert begin > 0.1 * RATE_HZ  # exact silence before the first note
    assert not mono[-4_800:].any()  # and after the last

    def part(start_s, end_s):
        return mono[begin + round(start_s * RATE_HZ) : begin + round(end_s * RATE_HZ)]

    # Source: ISO 16:1975, A4 = 440 Hz; E1 is 41.2034 Hz in equal temperament.
    assert abs(sounds.cents(sounds.strongest_hz(part(0.02, 1.0), RATE_HZ), 440.0)) < 5
    assert abs(sounds.cents(sounds.strongest_hz(part(1.52, 2.5), RATE_HZ), 41.2034)) < 5
    assert sounds.loudness_db(part(0.1, 0.9)) > -40
    assert not part(1.4, 1.49).any()  # the released key has ended
    assert not part(2.6, 2.7).any()  # and so has the bass
    hits = np.trim_zeros(part(2.7, 3.6))
    hat = hits[:1_500]
    near = [float(hat @ hits[17_136 + lag : 17_136 + lag + 1_500]) for lag in range(-240, 241)]
    assert abs(int(np.argmax(near)) - 240) <= 96  # 2 ms: a busy machine's clocks wander
    assert max(near) == pytest.approx(float(hat @ hat), rel=0.1)


@pytest.mark.jack
@pytest.mark.parametrize("how", ["quit", "end of input", "terminate"])
def test_every_way_to_end_fades_out(start, record, jack_server, how):
    running = start()
    running.next("ready")
    recording = record()
    for note in (50, 57, 62, 65):
        running.play("keys", bytes((0x90, note, 127)))
    recording.wait_for(0.5)
    if how == "quit":
        running.tell("quit")
    elif how == "terminate":
        os.kill(running.pid, signal.SIGTERM)
    status, err = running.end()
    sound = recording.finish()
    assert (status, err) == (0, "")
    check_limits(sound)
    assert sounds.peak(sound) > 0.02
    assert not sound[-64:].any()
    falling = np.abs(sound[np.flatnonzero(sound[:, 0])[-1] - 24 :, 0])
    assert falling.max() < 0.1 * sounds.peak(sound)  # it had faded before it stopped


@pytest.mark.jack
def test_an_interrupt_is_left_to_the_supervisor_and_junk_is_survived(start, record, jack_server):
    running = start()
    running.next("ready")
    os.kill(running.pid, signal.SIGINT)
    running.tell("event", "never", "keys", b"")
    recording = record()
    running.play("keys", b"\x90\x3c\x64")
    recording.wait_for(1.0)
    tally = running.next("tally")
    assert tally[1]["refused"] == 1
    assert tally[1]["errors"] == 0
    status, err = running.end()
    assert status == 0
    assert err.startswith("sound process: sound command: got ('event', 'never'")
    assert sounds.peak(recording.finish()) > 0.005


@pytest.mark.jack
def test_bytes_that_are_no_frames_end_it_in_order(start, jack_server):
    running = start()
    running.next("ready")
    running.process.stdin.write(b"\xff\xff\xff\xffgarbage")
    status, err = running.end()
    assert status == 0
    assert "frame" in err
    assert "Traceback" not in err


@pytest.mark.jack
def test_it_begins_again_once_when_the_server_dies_and_comes_back(start, other_jack):
    server = other_jack()
    running = start("--level", "-20", env=server.env)
    first = running.next("ready")
    pid = running.pid
    running.tell("level", -30.0)
    server.kill()
    server.start()
    assert running.next("ready") == first
    assert running.pid == pid
    assert "-30.0" in Path(f"/proc/{pid}/cmdline").read_text().split("\0")
    server.kill()  # the second time is the end of it
    silent = running.next("silent")
    assert f"'{DEVICE}' went away" in silent[1]
    status, err = running.end()
    assert status == 0
    assert "Traceback" not in err


@pytest.mark.jack
def test_a_server_that_stands_still_for_seconds_leaves_no_burst(start, other_jack):
    server = other_jack()
    running = start(env=server.env)
    running.next("ready")
    server.send_signal(signal.SIGSTOP)
    time.sleep(0.1)  # the period that runs comes to its end
    for note in range(40, 80):
        running.play("keys", bytes((0x90, note, 127)))
    time.sleep(1.0)
    server.send_signal(signal.SIGCONT)
    # A busy machine may count them in two goes; none of them may sound.
    wait_until(lambda: running.next("tally")[1]["stale"] == 40, "40 stale notes")
    running.tell("quit")
    assert running.end()[0] == 0
