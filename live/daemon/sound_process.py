"""The sound process: `python -m live.daemon.sound_process [--device NAME] [--level DB]`.

Frames in on standard input (`live.daemon.wire`): the commands of `live.ports.sound`, and `quit`.
    ("event", at_ns, voice, data)   a MIDI message for "keys", "bass" or "drums", stamped with the
                                    monotonic clock; ahead of time is fine, late plays at once
    ("cancel", voice)               forget what that voice has yet to play, let its notes go
    ("level", dB)                   -60 to -12
    ("panic",)                      forget everything, fade out within 8 ms
    ("quit",)                       fade out and end; the end of the stream means the same
Kick and snare under the playing are events for "drums" with notes 36 and 38, sent some hundred
milliseconds ahead; ("cancel", "drums") takes them back.
Frames out on standard output:
    ("ready", device name, sample rate, latency_s)   sent once more after a restart
    ("silent", one sentence)                         there is no sound; the process ends, status 0
    ("tally", {"errors": n, "underflows": n, "stale": n, "refused": n})   when it has changed

When a device goes away its driver may hang for ever or abort the process (JACK does both), so the
restart happens in a fresh process image with the same id: once, on the same device, never on
another one. Systems without `exec` go silent at once.
"""

from __future__ import annotations

import argparse
import gc
import os
import select
import signal
import sys
import threading
import time
from dataclasses import asdict
from queue import Empty, SimpleQueue
from typing import BinaryIO, Final, NoReturn

from live.clock.units import NS_PER_S
from live.daemon.logline import log_line
from live.daemon.wire import WireError, read_frame, write_frame
from live.ports.devices import SoundError
from live.ports.sound import SoundOut
from live.ports.synth import DEFAULT_LEVEL_DB, check_level
from live.theory.errors import FieldError

RETURN_LIMIT_NS: Final = 10 * NS_PER_S
"""How long a restarted process waits for the device to come back."""

_RETRY_S: Final = 1.0
_WATCH_S: Final = 0.25
_TALLY_S: Final = 1.0
_SWITCH_S: Final = 0.0005  # the audio callback waits no longer than this for Python's lock
_QUIT: Final = ("quit",)


class SoundProcess:
    """Reads frames, plays them, watches the device.

    Args:
        fd_in: file descriptor that frames come from.
        out: where frames go, unbuffered.
        sound: the device, not started yet.
        until_ns: in the one restart, the monotonic time up to which to wait for the device.
    Thread: `run` on the main one; a thread of its own reads.
    """

    def __init__(
        self, fd_in: int, out: BinaryIO, sound: SoundOut, until_ns: int | None = None
    ) -> None:
        self._fd_in = fd_in
        self._out = out
        self._sound = sound
        self._until_ns = until_ns
        self._inbox: SimpleQueue[object] = SimpleQueue()
        self._reading = threading.Lock()  # held while a frame is read, and for good at a restart
        self._told: dict[str, int] = asdict(sound.tally)
        self._told_s = 0.0
        self.let_go = True
        """False when the driver hangs: the process must then end without its exit handlers."""

    def quit(self) -> None:
        """Ask `run` to end. Thread: any, also a signal handler."""
        self._inbox.put(_QUIT)

    def run(self) -> None:
        """Play until told to quit, until the other end is gone, or until there is no device."""
        threading.Thread(target=self._read, daemon=True).start()
        try:
            self._run()
        except BrokenPipeError:  # nobody is left to tell
            self.let_go = self._sound.stop()

    def _run(self) -> None:
        try:
            self._open()
            self._play()
        except SoundError as error:
            write_frame(self._out, ("silent", str(error)))

    def _open(self) -> None:
        """Start the device; in a restart, try again until the time is over."""
        try:
            self._sound.start()
        except SoundError as error:
            if self._until_ns is None:
                raise
            if time.monotonic_ns() > self._until_ns:
                raise SoundError(_gone(self._sound.wanted)) from error
            time.sleep(_RETRY_S)
            self._restart(self._until_ns)
        sound = self._sound
        ready = ("ready", sound.device_name, sound.sample_rate_hz, sound.latency_s)
        write_frame(self._out, ready)

    def _play(self) -> None:
        while True:
            try:
                frame = self._inbox.get(timeout=_WATCH_S)
            except Empty:
                frame = None
            if frame == _QUIT:
                self.let_go = self._sound.stop()
                return
            if frame is not None:
                self._tell(frame)
            self._report()
            if not self._sound.active:
                self._lost()

    def _tell(self, frame: object) -> None:
        try:
            self._sound.tell(frame)
        except FieldError as error:
            self._sound.tally.refused += 1
            log_line(f"sound process: {error}")

    def _report(self) -> None:
        """Send the tally if it has changed, at most once a second."""
        tally = asdict(self._sound.tally)
        if tally != self._told and time.monotonic() - self._told_s >= _TALLY_S:
            self._told, self._told_s = tally, time.monotonic()
            write_frame(self._out, ("tally", tally))

    def _lost(self) -> NoReturn:
        """The device has stopped: one restart, then silence."""
        self.let_go = False
        if self._until_ns is None and os.name == "posix":
            self._restart(time.monotonic_ns() + RETURN_LIMIT_NS)
        raise SoundError(_gone(self._sound.device_name))

    def _restart(self, until_ns: int) -> NoReturn:
        """Begin again in a fresh process image with the same pipes; never returns."""
        self._reading.acquire()  # no frame is cut in two: the reader keeps none back
        while not self._inbox.empty():
            match self._inbox.get():
                case ("quit",):
                    os._exit(0)
                case ("level", _) as level:
                    self._tell(level)
        sound = self._sound
        options = ["--level", str(sound.level_db), "--latency", sound.latency]
        device = sound.device_name or sound.wanted
        if device is not None:
            options += ["--device", device]
        os.dup2(self._out.fileno(), 1)
        program = [sys.executable, "-m", "live.daemon.sound_process"]
        os.execv(sys.executable, [*program, *options, "--until", str(until_ns)])  # noqa: S606

    def _read(self) -> None:
        with open(self._fd_in, "rb", buffering=0, closefd=False) as stream:
            while True:
                if os.name == "posix":
                    select.select([stream], [], [])
                with self._reading:
                    try:
                        frame = read_frame(stream)
                    except (WireError, OSError) as error:
                        log_line(f"sound process: {error}")
                        frame = None
                    self._inbox.put(_QUIT if frame is None else frame)
                if frame is None:
                    return


def _gone(device: str | None) -> str:
    return f"There is no sound because the device '{device}' went away; start again to use it."


def main(argv: list[str] | None = None) -> None:
    """Run the process to its end; exit status 0, or 2 for a bad option."""
    parser = argparse.ArgumentParser(prog="sound process")
    parser.add_argument("--device")
    parser.add_argument("--level", type=float, default=DEFAULT_LEVEL_DB)
    parser.add_argument("--latency", choices=("low", "high"), default="low")
    parser.add_argument("--until", type=int, help="monotonic ns; only in a restart")
    chosen = parser.parse_args(argv)
    try:
        check_level(chosen.level)
    except FieldError as error:
        parser.error(str(error))
    out = _claim_output()
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl+C is for the supervisor
    process = SoundProcess(
        0, out, SoundOut(chosen.device, chosen.level, latency=chosen.latency), chosen.until
    )
    signal.signal(signal.SIGTERM, lambda *_: process.quit())
    sys.setswitchinterval(_SWITCH_S)
    gc.collect()
    gc.freeze()
    gc.disable()  # a pause would be heard; what is used here has no cycles to speak of
    process.run()
    if not process.let_go:
        os._exit(0)  # PortAudio's exit handler would hang, or abort the process


def _claim_output() -> BinaryIO:
    """Standard output for frames alone: what libraries print goes to standard error."""
    private = os.dup(1)
    os.dup2(2, 1)
    return open(private, "wb", buffering=0)  # noqa: PTH123  # open to the end


if __name__ == "__main__":
    main()
