"""The built-in sound: keys, bass and drums as samples. No device here."""

from __future__ import annotations

import heapq
from itertools import count
from typing import Final, Literal, get_args

import numpy as np

from live.ports.drums import Drums
from live.ports.limiter import Audio, Limiter, Volume
from live.ports.parts import Bass, DrumKit, Keys, MakeBank, MakeDrums, Part, is_press
from live.ports.voices import Bank
from live.theory.errors import FieldError

Voice = Literal["keys", "bass", "drums"]
VOICES: Final[tuple[Voice, ...]] = get_args(Voice)

DEFAULT_LEVEL_DB: Final = -24.0
"""Quiet to start with: full scale less 24 dB for one key at full velocity. Our choice."""

MIN_LEVEL_DB: Final = -60.0
MAX_LEVEL_DB: Final = -12.0  # one key at full velocity then just reaches the ceiling
MIN_RATE_HZ: Final = 16_000
MAX_RATE_HZ: Final = 192_000
MOST_PENDING: Final = 8192
"""Events that may wait for their frame; further note-ons are refused and counted."""

_MOST_VOICES: Final = 128


def check_level(level_db: float) -> float:
    """The level, if it is allowed; raises FieldError."""
    if not MIN_LEVEL_DB <= level_db <= MAX_LEVEL_DB:  # false for NaN as well
        allowed = f"{MIN_LEVEL_DB:g} to {MAX_LEVEL_DB:g} dB, ends included"
        raise FieldError("sound level", allowed, level_db)
    return level_db


class Synth:
    """Turns MIDI messages for three voices into sound.

    The output is the same on both sides (the low end stays in the middle), never exceeds
    `limiter.CEILING` and comes `delay_frames` after its events. The same events give the same
    samples, however they are cut into blocks.

    Args:
        sample_rate_hz: 16000 to 192000.
        level_db: peak of one key at velocity 127, -60 to -12 dB of full scale.
        voices: keys that can sound at once, 1 to 128.
        bank: makes the voices of keys and bass. drums: makes the drums.
    Raises: FieldError.
    Thread: one, the one that renders.
    """

    delay_frames: Final = Limiter.delay_frames

    def __init__(
        self,
        sample_rate_hz: int,
        level_db: float = DEFAULT_LEVEL_DB,
        voices: int = 32,
        *,
        bank: MakeBank = Bank,
        drums: MakeDrums = Drums,
    ) -> None:
        if not MIN_RATE_HZ <= sample_rate_hz <= MAX_RATE_HZ:
            allowed = f"{MIN_RATE_HZ} to {MAX_RATE_HZ} Hz"
            raise FieldError("sample rate", allowed, sample_rate_hz)
        if not 1 <= voices <= _MOST_VOICES:
            raise FieldError("voices", f"1 to {_MOST_VOICES}", voices)
        self.sample_rate_hz: Final = sample_rate_hz
        self._parts: dict[str, Part] = {
            "keys": Keys(sample_rate_hz, voices, bank),
            "bass": Bass(sample_rate_hz, bank),
            "drums": DrumKit(sample_rate_hz, drums),
        }
        self._volume = Volume(sample_rate_hz, check_level(level_db))
        self._limiter = Limiter(sample_rate_hz)
        self._pending: list[tuple[int, int, str, bytes]] = []  # frame, order, voice, message
        self._order = count()
        self._frame = 0  # frames rendered since the start
        self._refused = 0

    @property
    def refused(self) -> int:
        """Messages that were not valid MIDI, and notes for which there was no room, so far."""
        return self._refused + sum(part.dropped for part in self._parts.values())

    @property
    def sounding(self) -> int:
        """Voices that are not silent yet, of all three parts."""
        return sum(part.sounding for part in self._parts.values())

    def event(self, voice: Voice, data: bytes, frame_offset: int = 0) -> None:
        """Take one whole MIDI message.

        Args:
            voice: which part plays it.
            data: a channel message with its status byte; anything else is counted and ignored.
            frame_offset: frames from the start of the next block; may lie beyond that block, and
                below 0 means 0. Messages for the same frame keep their order.
        Raises: FieldError for an unknown voice.
        """
        if voice not in self._parts:
            raise FieldError("voice", ", ".join(VOICES), voice)
        if len(self._pending) >= MOST_PENDING and is_press(data):
            self._refused += 1
            return
        frame = self._frame + max(0, frame_offset)
        heapq.heappush(self._pending, (frame, next(self._order), voice, data))

    def set_level(self, level_db: float) -> None:
        """Change the level: down within 10 ms, up by at most 3 dB in 100 ms. Raises FieldError."""
        self._volume.set(check_level(level_db))

    def cancel(self, voice: Voice) -> None:
        """Forget what a voice has yet to play, and let its notes go."""
        self._pending = [event for event in self._pending if event[2] != voice]
        heapq.heapify(self._pending)
        self._parts[voice].release_all()

    def panic(self) -> None:
        """Forget everything to come and fade everything out within 8 ms."""
        self._pending.clear()
        for part in self._parts.values():
            part.choke()

    def reset(self) -> None:
        """As `panic`, at once: for use after an error, when no voice can be trusted."""
        self._pending.clear()
        for part in self._parts.values():
            part.clear()

    def render(self, frames: int) -> Audio:
        """The next `frames` (0 or more) as an array (frames, 2), full scale 1.0."""
        mix = self._advance(frames)
        if not frames:
            return np.zeros((0, 2), np.float32)
        return self._finish(mix)

    def _finish(self, mix: Audio) -> Audio:
        """The mix at its level and within the limits, on both sides."""
        return np.repeat(self._limiter.process(self._volume.apply(mix))[:, None], 2, axis=1)

    def _advance(self, frames: int) -> Audio:
        """Play what is due in the next `frames`. Returns: the parts together."""
        mix: Audio = np.zeros(frames, np.float32)
        done = 0
        while done < frames:
            self._play_due(self._frame + done)
            end = frames
            if self._pending:
                end = min(frames, self._pending[0][0] - self._frame)
            for part in self._parts.values():
                sound = part.render(end - done)
                if sound is not None:
                    mix[done:end] += sound
            done = end
        self._frame += frames
        return mix

    def _play_due(self, frame: int) -> None:
        while self._pending and self._pending[0][0] <= frame:
            _, _, voice, data = heapq.heappop(self._pending)
            if not self._parts[voice].handle(data):
                self._refused += 1
