from __future__ import annotations

import subprocess
import sys
import threading
import time

import numpy as np
import pytest

from live.ports import sound as sound_module
from live.ports.devices import SoundError
from live.ports.sound import STALE_S, SoundOut, check_command
from live.ports.synth import Synth
from live.theory.errors import FieldError
from tests import sounds

RATE_HZ = 48_000
BLOCK = 128
NOTE = b"\x90\x3c\x64"
START_NS = 1_000_000_000_000


class PortAudioError(Exception):
    pass


class Stream:
    """Stands in for sounddevice.OutputStream; the test asks for blocks by hand."""

    latency = 0.004

    def __init__(self, **options):
        self.options = options
        self.active = False
        self.closed = []

    def start(self):
        self.active = True

    def abort(self):
        self.closed.append("abort")

    def close(self):
        self.closed.append("close")


class Library:
    """Stands in for the sounddevice module with one device."""

    PortAudioError = PortAudioError

    class default:  # noqa: N801  # the module's own name
        hostapi = 0

    def __init__(self, channels=2, make=Stream):
        self.channels = channels
        self.make = make

    def query_devices(self):
        return [
            {
                "name": "Speakers",
                "hostapi": 0,
                "max_output_channels": self.channels,
                "default_samplerate": float(RATE_HZ),
            }
        ]

    def query_hostapis(self, index=None):
        family = {"name": "ALSA", "default_output_device": 0}
        return (family,) if index is None else family

    def OutputStream(self, **options):  # noqa: N802  # the module's own name
        self.stream = self.make(**options)
        return self.stream


class Clock:
    """The monotonic clock, moved by the blocks that are asked for."""

    def __init__(self):
        self.ns = START_NS

    def __call__(self):
        return self.ns


@pytest.fixture
def clock_ns(monkeypatch):
    clock = Clock()
    monkeypatch.setattr(sound_module.time, "monotonic_ns", clock)
    return clock


class Rig:
    """A started SoundOut and the sound card it plays to."""

    def __init__(self, clock, **options):
        self.library = Library(**options)
        self.out = SoundOut(backend=self.library)
        self.out.start()
        self.stream = self.library.stream
        self.clock = clock

    def listen(self, frames, status=None):
        """Ask for blocks; they come uninitialised, as PortAudio's do."""
        blocks = []
        for _ in range(0, frames, BLOCK):
            block = np.full((BLOCK, self.stream.options["channels"]), np.nan, np.float32)
            self.stream.options["callback"](block, BLOCK, None, status)
            blocks.append(block)
            self.clock.ns += BLOCK * 1_000_000_000 // RATE_HZ
        return np.concatenate(blocks)


@pytest.fixture
def rig(clock_ns):
    return Rig(clock_ns)


def onset(heard):
    return int(np.argmax(np.abs(heard[:, 0]) > 0.01 * sounds.peak(heard)))


def test_the_stream_is_asked_for_as_the_device_likes_it(rig):
    options = rig.stream.options
    assert (options["samplerate"], options["channels"], options["dtype"]) == (RATE_HZ, 2, "float32")
    assert "blocksize" not in options  # python-sounddevice: 0, the driver's own choice, is best
    assert rig.out.device_name == "Speakers, ALSA"
    assert rig.out.latency_s == pytest.approx(0.004 + Synth.delay_frames / RATE_HZ)
    assert rig.out.active


def test_silence_until_something_is_played(rig):
    assert not rig.listen(RATE_HZ).any()


def test_an_event_of_now_plays_at_once(rig):
    rig.listen(1_280)
    rig.out.tell(("event", rig.clock.ns, "keys", NOTE))
    assert onset(rig.listen(4_800)) < Synth.delay_frames + 100


def test_an_event_ahead_of_time_plays_on_its_frame(rig):
    rig.listen(1_280)
    for at_ms in (0, 50, 123):
        rig.out.tell(("event", rig.clock.ns + at_ms * 1_000_000, "drums", b"\x99\x2a\x7f"))
    heard = rig.listen(12_800)[:, 0]
    hat = heard[:500]
    for at_ms in (50, 123):
        start = at_ms * 48
        near = [float(hat @ heard[start + lag : start + lag + 500]) for lag in range(-40, 41)]
        assert abs(int(np.argmax(near)) - 40) <= 1
        assert max(near) == pytest.approx(float(hat @ hat), rel=0.05)


def test_a_late_release_acts_and_a_note_of_long_ago_does_not_burst_out(rig):
    rig.out.tell(("event", rig.clock.ns, "keys", NOTE))
    rig.listen(9_600)
    long_ago_ns = rig.clock.ns - round((STALE_S + 0.1) * 1e9)
    rig.out.tell(("event", long_ago_ns, "keys", b"\x80\x3c\x40"))
    rig.out.tell(("event", long_ago_ns, "keys", b"\x90\x40\x64"))
    assert not rig.listen(RATE_HZ)[-4_800:].any()
    assert rig.out.tally.stale == 1


def test_level_cancel_and_panic_arrive(rig):
    rig.out.tell(("event", rig.clock.ns, "keys", NOTE))
    loud = sounds.loudness_db(rig.listen(9_600)[4_800:])
    rig.out.tell(("level", -44))
    assert sounds.loudness_db(rig.listen(9_600)[4_800:]) == pytest.approx(loud - 20, abs=3)
    assert rig.out.level_db == -44
    rig.out.tell(("event", rig.clock.ns + 100_000_000, "drums", b"\x99\x24\x64"))
    rig.listen(BLOCK)
    rig.out.tell(("cancel", "drums"))
    rig.out.tell(("panic",))
    rig.listen(640)
    assert not rig.listen(RATE_HZ).any()


def test_a_device_with_one_channel_is_served(clock_ns):
    rig = Rig(clock_ns, channels=1)
    rig.out.tell(("event", rig.clock.ns, "keys", NOTE))
    heard = rig.listen(4_800)
    assert heard.shape[1] == 1
    assert sounds.peak(heard) > 0.001


def test_a_device_with_many_channels_gets_two(clock_ns):
    assert Rig(clock_ns, channels=8).stream.options["channels"] == 2


def test_an_exception_in_the_callback_is_silence_counted_and_survived(rig, monkeypatch):
    rig.out.tell(("event", rig.clock.ns, "keys", NOTE))
    rig.listen(1_280)
    with monkeypatch.context() as broken:
        broken.setattr(Synth, "render", lambda *_: 1 / 0)
        assert not rig.listen(384).any()
    assert rig.out.tally.errors == 3
    assert not rig.listen(4_800)[Synth.delay_frames :].any()  # no voice is trusted after it
    rig.out.tell(("event", rig.clock.ns, "keys", NOTE))
    assert rig.listen(4_800).any()


def test_underflows_are_counted(rig):
    rig.listen(256, status="output underflow")
    assert rig.out.tally.underflows == 2


def test_a_stopped_stream_is_seen(rig):
    rig.stream.active = False
    assert not rig.out.active


def test_a_driver_that_raises_counts_as_stopped(rig):
    class Broken(Stream):
        @property
        def active(self):
            raise PortAudioError("host error")

        @active.setter
        def active(self, value):
            pass

    rig.out._stream = Broken()
    assert not rig.out.active


def test_stop_fades_out_and_then_closes(rig):
    rig.out.tell(("event", rig.clock.ns, "keys", b"\x90\x3c\x7f"))
    before = rig.listen(9_600)
    after = []
    ended = threading.Event()

    def card():
        while not ended.is_set():
            after.append(rig.listen(BLOCK))
            time.sleep(0.001)

    playing = threading.Thread(target=card)
    playing.start()
    assert rig.out.stop()
    ended.set()
    playing.join()
    whole = np.concatenate((before, *after))
    assert not whole[-BLOCK:].any()
    assert sounds.largest_step(whole) <= sounds.STEP
    assert rig.stream.closed == ["abort", "close"]
    assert rig.out.stop()  # a second time does nothing
    assert rig.stream.closed == ["abort", "close"]


def test_a_driver_that_hangs_on_closing_does_not_hang_us(clock_ns, monkeypatch):
    monkeypatch.setattr(sound_module, "_CLOSE_LIMIT_S", 0.05)
    never = threading.Event()

    class Hanging(Stream):
        def abort(self):
            never.wait(10)

    rig = Rig(clock_ns, make=Hanging)
    rig.stream.active = False
    assert rig.out.stop() is False
    never.set()


def test_a_device_that_cannot_be_opened_is_one_sentence(clock_ns):
    def make(**options):
        raise PortAudioError("Device unavailable")

    with pytest.raises(SoundError) as caught:
        Rig(clock_ns, make=make)
    wanted = "The sound device 'Speakers, ALSA' cannot be used: Device unavailable."
    assert str(caught.value) == wanted


def test_what_waits_is_bounded_and_releases_always_fit(rig):
    for _ in range(10_000):
        rig.out.tell(("event", rig.clock.ns, "keys", NOTE))
    rig.out.tell(("event", rig.clock.ns, "keys", b"\x80\x3c\x40"))
    assert len(rig.out._commands) == 8_193
    assert rig.out.tally.refused == 10_000 - 8_192


@pytest.mark.parametrize(
    "junk",
    [
        None,
        (),
        ("event",),
        ("event", 1.5, "keys", NOTE),
        ("event", 1, "organ", NOTE),
        ("event", 1, "keys", "text"),
        ("event", 1, ["keys"], NOTE),
        ("level", "loud"),
        ("level", 0.0),
        ("level", float("nan")),
        ("cancel", "organ"),
        ("panic", 1),
        ("quit",),
    ],
)
def test_what_is_no_command_is_refused(junk):
    with pytest.raises(FieldError):
        check_command(junk)


@pytest.mark.parametrize(
    ("program", "words"),
    [
        ("sys.modules['sounddevice'] = None", "'sounddevice' is not installed"),
        (
            "import ctypes.util; ctypes.util.find_library = lambda name: None",
            "PortAudio is not installed",
        ),
    ],
)
def test_a_missing_library_is_one_sentence(program, words):
    # The second is what sounddevice does without PortAudio: OSError at import.
    code = (
        f"import sys; {program}\n"
        "from live.ports.sound import SoundOut\n"
        "try: SoundOut().start()\n"
        "except Exception as error: print(type(error).__name__, error)\n"
    )
    ended = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    assert ended.stdout.startswith("SoundError There is no sound because")
    assert words in ended.stdout
    assert ended.stderr == ""


def test_importing_us_does_not_load_the_sound_library():
    code = "import sys, live.ports.sound, live.ports.synth; print('sounddevice' in sys.modules)"
    ended = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    assert ended.stdout.strip() == "False"
