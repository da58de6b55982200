"""What each part of the built-in sound does with MIDI messages: keys, bass, drums.

Each takes whole channel messages with a status byte; for anything else `handle` returns False.
Thread: one, the one that renders.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable
from typing import Final

from live.notes.midi import (
    ALL_NOTES_OFF,
    ALL_SOUND_OFF,
    CONTROL_CHANGE,
    NOTE_OFF,
    NOTE_ON,
    PITCH_BEND,
    RESET_CONTROLLERS,
    SUSTAIN,
)
from live.notes.split import is_whole
from live.ports.bend import CHANNELS, Bend
from live.ports.drums import Drums
from live.ports.limiter import Audio
from live.ports.voices import BASS, KEYS, Bank, Tone

_FIRST_SYSTEM: Final = 0xF0
_PEDAL_DOWN: Final = 64  # values from here on mean down
_NOTES_OFF: Final = range(ALL_NOTES_OFF, 128)  # a change of mode also lets the notes go
_BASS_VOICES: Final = 1

MakeBank = Callable[[Tone, float, int], Bank]
MakeDrums = Callable[[int], Drums]


def is_press(data: bytes) -> bool:
    """True for a note-on with a velocity above 0."""
    return len(data) == 3 and data[0] & 0xF0 == NOTE_ON and data[2] > 0


class Part(ABC):
    """One part of the built-in sound."""

    def handle(self, data: bytes) -> bool:
        """Take one message; False if it is not one whole, valid channel message."""
        if not is_whole(data) or data[0] >= _FIRST_SYSTEM:
            return False
        kind, channel = data[0] & 0xF0, data[0] & 0x0F
        if kind == NOTE_ON and data[2]:
            self._press(channel, data[1], data[2])
        elif kind in (NOTE_ON, NOTE_OFF):
            self._lift(channel, data[1])
        elif kind == CONTROL_CHANGE:
            self._control(channel, data[1], data[2])
        elif kind == PITCH_BEND:
            self._wheel(channel, data[1], data[2])
        return True

    @property
    @abstractmethod
    def sounding(self) -> int:
        """Voices that are not silent yet."""

    @property
    @abstractmethod
    def dropped(self) -> int:
        """Notes refused because every voice was still fading."""

    @abstractmethod
    def release_all(self) -> None:
        """Let every note go, pedals up."""

    @abstractmethod
    def choke(self) -> None:
        """Fade everything out within 8 ms and forget pedals and bends."""

    @abstractmethod
    def clear(self) -> None:
        """As `choke`, at once and without a ramp."""

    @abstractmethod
    def render(self, frames: int) -> Audio | None:
        """The next `frames`, 1 or more, or None when silent."""

    @abstractmethod
    def _press(self, channel: int, note: int, velocity: int) -> None: ...

    def _lift(self, channel: int, note: int) -> None:  # noqa: B027  # not every part has it
        pass

    def _control(self, channel: int, number: int, value: int) -> None:  # noqa: B027  # not every part has it
        pass

    def _wheel(self, channel: int, low: int, high: int) -> None:  # noqa: B027  # not every part has it
        pass


class Keys(Part):
    """Many notes at once, with sustain pedal and pitch bend for each channel."""

    _tone: Tone = KEYS

    def __init__(self, sample_rate_hz: int, voices: int, bank: MakeBank = Bank) -> None:
        self._bank = bank(self._tone, sample_rate_hz, voices)
        self._bend = Bend()
        self._pedals = [False] * CHANNELS
        self._waiting: set[tuple[int, int]] = set()  # (channel, note) that only the pedal holds

    @property
    def sounding(self) -> int:
        """Voices that are not silent yet."""
        return self._bank.sounding

    @property
    def dropped(self) -> int:
        """Notes refused because every voice was still fading."""
        return self._bank.dropped

    def release_all(self) -> None:
        """Let every note go, pedals up."""
        self._pedals = [False] * CHANNELS
        self._waiting.clear()
        self._bank.release_all()

    def choke(self) -> None:
        """Fade everything out within 8 ms and forget pedals and bends."""
        self.release_all()
        self._bend = Bend()
        self._bank.choke()

    def clear(self) -> None:
        """As `choke`, at once and without a ramp."""
        self.choke()
        self._bank.clear()

    def render(self, frames: int) -> Audio | None:
        """The next `frames`, 1 or more, or None when silent."""
        return self._bank.render(frames, self._bend.ratios)

    def _press(self, channel: int, note: int, velocity: int) -> None:
        self._waiting.discard((channel, note))
        self._bank.start(note, velocity, channel)

    def _lift(self, channel: int, note: int) -> None:
        if self._pedals[channel]:
            self._waiting.add((channel, note))
        else:
            self._bank.release(note, channel)

    def _wheel(self, channel: int, low: int, high: int) -> None:
        self._bend.wheel(channel, low, high)

    def _control(self, channel: int, number: int, value: int) -> None:
        if number == SUSTAIN:
            self._pedal(channel, down=value >= _PEDAL_DOWN)
        elif number == ALL_SOUND_OFF:
            self._waiting = {held for held in self._waiting if held[0] != channel}
            self._bank.choke(channel)
        elif number == RESET_CONTROLLERS:
            self._pedal(channel, down=False)
            self._bend.centre(channel)
        elif number in _NOTES_OFF:  # a pedal that is down still holds them
            for note in self._bank.held(channel):
                self._lift(channel, note)
        else:
            self._bend.control(channel, number, value)

    def _pedal(self, channel: int, *, down: bool) -> None:
        self._pedals[channel] = down
        if down:
            return
        for held in [held for held in self._waiting if held[0] == channel]:
            self._waiting.discard(held)
            self._bank.release(held[1], channel)


class Bass(Keys):
    """One note at a time: the last key struck has priority, and an older held one comes back.

    The sustain pedal does nothing: a bass line that rings on would blur the low end.
    """

    _tone = BASS

    def __init__(self, sample_rate_hz: int, bank: MakeBank = Bank) -> None:
        super().__init__(sample_rate_hz, _BASS_VOICES, bank)
        self._down: dict[tuple[int, int], int] = {}  # (channel, note): velocity, as struck

    def release_all(self) -> None:
        """Let every note go."""
        self._down.clear()
        super().release_all()

    def _press(self, channel: int, note: int, velocity: int) -> None:
        self._down.pop((channel, note), None)
        self._down[channel, note] = velocity
        self._bank.start(note, velocity, channel)

    def _lift(self, channel: int, note: int) -> None:
        if (channel, note) not in self._down:
            return
        sounding = next(reversed(self._down))
        del self._down[channel, note]
        if not self._down:
            self._bank.release(note, channel)
        elif (channel, note) == sounding:
            (channel, note), velocity = next(reversed(self._down.items()))
            self._bank.start(note, velocity, channel)

    def _control(self, channel: int, number: int, value: int) -> None:
        if number in _NOTES_OFF:
            self.release_all()
        elif number == ALL_SOUND_OFF:
            self._down.clear()
            self._bank.choke()
        elif number != SUSTAIN:
            super()._control(channel, number, value)


class DrumKit(Part):
    """Hits only: a note-on strikes; releases, pedals and bends do nothing."""

    def __init__(self, sample_rate_hz: int, drums: MakeDrums = Drums) -> None:
        self._drums = drums(sample_rate_hz)

    @property
    def sounding(self) -> int:
        """Hits that are not silent yet."""
        return self._drums.sounding

    @property
    def dropped(self) -> int:
        """Hits refused because too many were still fading."""
        return self._drums.dropped

    def release_all(self) -> None:
        """Nothing to do: a hit runs to its end."""

    def choke(self) -> None:
        """Fade every hit out within 8 ms."""
        self._drums.choke()

    def clear(self) -> None:
        """Silence at once, without a ramp."""
        self._drums.clear()

    def render(self, frames: int) -> Audio | None:
        """The next `frames`, 1 or more, or None when silent."""
        return self._drums.render(frames)

    def _press(self, _channel: int, note: int, velocity: int) -> None:
        self._drums.start(note, velocity)

    def _control(self, _channel: int, number: int, _value: int) -> None:
        if number == ALL_SOUND_OFF:
            self._drums.choke()
