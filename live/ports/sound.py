"""The sound device: commands in from any thread, samples out in PortAudio's own thread.

Nothing is shared under a lock. Commands go through a deque (append and popleft are atomic); the
audio callback alone touches the synth.
"""

from __future__ import annotations

import threading
import time
from collections import deque
from dataclasses import dataclass
from types import ModuleType
from typing import Final, Literal, Protocol, cast

import numpy as np
from numpy.typing import NDArray

from live.clock.units import NS_PER_S
from live.ports.devices import SoundError, find_device
from live.ports.frameclock import FrameClock
from live.ports.parts import is_press
from live.ports.synth import DEFAULT_LEVEL_DB, VOICES, Synth, Voice, check_level
from live.theory.errors import FieldError

Command = (
    tuple[Literal["event"], int, Voice, bytes]
    | tuple[Literal["cancel"], Voice]
    | tuple[Literal["level"], float]
    | tuple[Literal["panic"]]
)
"""("event", monotonic ns, voice, MIDI message) · ("cancel", voice) · ("level", dB) · ("panic",)"""

STALE_S: Final = 0.3
"""A note-on that comes later than this is not played: after a stall it would be a burst."""

_MOST_WAITING: Final = 8192
_CLOSE_LIMIT_S: Final = 1.0
_FADE_LIMIT_S: Final = 0.5
_FADE_LOOK_S: Final = 0.002


@dataclass(slots=True)
class Tally:
    """What went wrong so far. Written by the audio callback, read by anybody."""

    errors: int = 0  # exceptions in the callback; each silences everything once
    underflows: int = 0  # blocks that came too late for the device
    stale: int = 0  # note-ons older than STALE_S
    refused: int = 0  # commands we could not read, notes for which there was no room


class _Stream(Protocol):
    latency: float
    active: bool

    def start(self) -> None: ...
    def abort(self) -> None: ...
    def close(self) -> None: ...


class SoundOut:
    """The built-in sound on a device.

    Args:
        device: its name or a part of it that fits one device only; None is the system's default.
        level_db: see `Synth`.
        latency: what to ask of the driver.
        backend: stands in for the sounddevice module in tests.
    Thread: `start` and `stop` the owner's, everything else any.
    """

    def __init__(
        self,
        device: str | None = None,
        level_db: float = DEFAULT_LEVEL_DB,
        *,
        latency: Literal["low", "high"] = "low",
        backend: ModuleType | None = None,
    ) -> None:
        self.tally = Tally()
        self.device_name = ""
        self.sample_rate_hz = 0
        self.latency_s = 0.0
        self.wanted: Final = device
        self.latency: Final = latency
        self.level_db = check_level(level_db)  # the last one asked for
        self._backend = backend
        self._commands: deque[Command] = deque()
        self._silent_frames = 0  # without any voice, up to now; the callback counts
        self._synth: Synth | None = None
        self._stream: _Stream | None = None

    @property
    def active(self) -> bool:
        """False before `start`, and once the device has stopped asking for sound."""
        try:
            return self._stream is not None and self._stream.active
        except Exception:  # noqa: BLE001  # a driver in trouble may raise anything
            return False

    def start(self) -> None:
        """Open the device and begin, silent. Raises SoundError."""
        sd = self._backend or _load()
        device = find_device(sd, self.wanted)
        _warm_up(device.rate_hz)
        self._synth = Synth(device.rate_hz, self.level_db)
        self._clock = FrameClock(device.rate_hz)
        try:
            self._stream = sd.OutputStream(
                samplerate=device.rate_hz,
                device=device.index,
                channels=device.channels,
                dtype="float32",
                latency=self.latency,
                callback=self._callback,
            )
            self._stream.start()
        except (sd.PortAudioError, ValueError) as error:
            why = f"The sound device '{device.name}' cannot be used: {error}."
            raise SoundError(why) from error
        self.device_name = device.name
        self.sample_rate_hz = device.rate_hz
        self.latency_s = self._stream.latency + self._synth.delay_frames / device.rate_hz

    def tell(self, command: object) -> None:
        """Pass a command on; it takes effect in the next block.

        Events may be stamped ahead of time and are then played on their frame; late ones play at
        once. Raises: FieldError if it is not a command.
        """
        checked = check_command(command)
        if checked[0] == "level":
            self.level_db = checked[1]
        if len(self._commands) < _MOST_WAITING or not _is_note_on(checked):
            self._commands.append(checked)
        else:
            self.tally.refused += 1

    def stop(self) -> bool:
        """Fade out and close.

        Returns: False if the driver does not let go within a second; a driver whose server has
            died never does, and the process should then end by `os._exit`.
        """
        stream, self._stream = self._stream, None
        if stream is None:
            return True
        self._fade_out(stream)
        closing = threading.Thread(target=_close, args=(stream,), daemon=True)
        closing.start()
        closing.join(_CLOSE_LIMIT_S)
        return not closing.is_alive()

    def _fade_out(self, stream: _Stream) -> None:
        """Wait until the ramp has left the device, as far as that can be known."""
        self._commands.append(("panic",))
        wanted_frames = Synth.delay_frames + self.latency_s * self.sample_rate_hz
        end_s = time.monotonic() + _FADE_LIMIT_S + self.latency_s
        self._silent_frames = 0
        while stream.active and self._silent_frames <= wanted_frames and time.monotonic() < end_s:
            time.sleep(_FADE_LOOK_S)

    def _callback(
        self, out: NDArray[np.float32], frames: int, _times: object, status: object
    ) -> None:
        out.fill(0)  # it comes uninitialised
        synth = self._synth
        if synth is None:
            return
        try:
            if status:
                self.tally.underflows += 1
            self._clock.block(time.monotonic_ns(), frames)
            self._take_commands(synth)
            out[:] = synth.render(frames)[:, : out.shape[1]]
            silent = synth.sounding == 0 and not self._commands
            self._silent_frames = self._silent_frames + frames if silent else 0
        except BaseException:  # noqa: BLE001  # an exception here would end the stream unseen
            self.tally.errors += 1
            synth.reset()

    def _take_commands(self, synth: Synth) -> None:
        for _ in range(len(self._commands)):
            match self._commands.popleft():
                case ("event", at_ns, voice, data) as event:
                    late_ns = time.monotonic_ns() - at_ns
                    if late_ns > STALE_S * NS_PER_S and _is_note_on(event):
                        self.tally.stale += 1
                    else:
                        synth.event(voice, data, self._clock.offset(at_ns))
                case ("cancel", voice):
                    synth.cancel(voice)
                case ("level", level_db):
                    synth.set_level(level_db)
                case ("panic",):
                    synth.panic()


def check_command(command: object) -> Command:
    """The command, if it is one; raises FieldError."""
    match command:
        case ("event", int() as at_ns, voice, bytes() as data) if voice in VOICES:
            return ("event", at_ns, voice, data)
        case ("cancel", voice) if voice in VOICES:
            return ("cancel", voice)
        case ("level", int() | float() as level_db):
            return ("level", check_level(level_db))
        case ("panic",):
            return ("panic",)
    raise FieldError("sound command", "event, cancel, level or panic with its values", command)


def _is_note_on(command: Command) -> bool:
    return command[0] == "event" and is_press(command[3])


def _load() -> ModuleType:
    try:
        import sounddevice
    except ImportError as error:
        package = "the Python package 'sounddevice' is not installed"
        raise SoundError(f"There is no sound because {package}.") from error
    except OSError as error:
        raise SoundError("There is no sound because PortAudio is not installed.") from error
    return cast("ModuleType", sounddevice)


def _warm_up(rate_hz: int) -> None:
    """Run everything once, so that the first note is not late."""
    synth = Synth(rate_hz)
    for voice in VOICES:
        synth.event(voice, b"\x90\x24\x40")
        synth.event(voice, b"\x80\x24\x00", 64)
    synth.render(128)


def _close(stream: _Stream) -> None:
    stream.abort()
    stream.close()
