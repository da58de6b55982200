"""The built-in sound: keys, bass and drums as samples, and songs as WAV files. No device here."""

from __future__ import annotations

import heapq
import wave
from bisect import bisect_right
from collections.abc import Callable
from io import BytesIO
from itertools import count
from operator import itemgetter
from pathlib import Path
from typing import TYPE_CHECKING, Final, Literal, get_args

import numpy as np
from numpy.typing import NDArray

from live.clock.units import NS_PER_S, UNSTATED_TEMPO_BPM, ticks_to_ns
from live.notes.midi import DRUM_CHANNEL, note_off, note_on
from live.ports.atomic import write_whole
from live.ports.limiter import Audio, Limiter, Volume
from live.ports.parts import Bass, DrumKit, Keys, Part, is_press
from live.theory.errors import FieldError

if TYPE_CHECKING:  # the sound process needs no file reader
    from live.ports.files import FileNote, SongFile

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
_BLOCK: Final = 1024
_MOST_SONG_S: Final = 3600
_FULL_SCALE: Final = 32767


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
    Raises: FieldError.
    Thread: one, the one that renders.
    """

    delay_frames: Final = Limiter.delay_frames

    def __init__(
        self, sample_rate_hz: int, level_db: float = DEFAULT_LEVEL_DB, voices: int = 32
    ) -> None:
        if not MIN_RATE_HZ <= sample_rate_hz <= MAX_RATE_HZ:
            allowed = f"{MIN_RATE_HZ} to {MAX_RATE_HZ} Hz"
            raise FieldError("sample rate", allowed, sample_rate_hz)
        if not 1 <= voices <= _MOST_VOICES:
            raise FieldError("voices", f"1 to {_MOST_VOICES}", voices)
        self.sample_rate_hz: Final = sample_rate_hz
        self._parts: dict[str, Part] = {
            "keys": Keys(sample_rate_hz, voices),
            "bass": Bass(sample_rate_hz),
            "drums": DrumKit(sample_rate_hz),
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
        if not frames:
            return np.zeros((0, 2), np.float32)
        return np.repeat(self._limiter.process(self._volume.apply(mix))[:, None], 2, axis=1)

    def _play_due(self, frame: int) -> None:
        while self._pending and self._pending[0][0] <= frame:
            _, _, voice, data = heapq.heappop(self._pending)
            if not self._parts[voice].handle(data):
                self._refused += 1


def voice_for(note: FileNote, tracks: tuple[str, ...]) -> Voice:
    """Which voice plays a note of a song.

    Channel 10 is drums (General MIDI); a track named `answer`, or with `bass` in its name, is
    bass; all else is keys. Case does not matter.
    """
    if note.channel == DRUM_CHANNEL:
        return "drums"
    name = tracks[note.track].strip().lower() if 0 <= note.track < len(tracks) else ""
    return "bass" if name == "answer" or "bass" in name else "keys"


def render_song(
    song: SongFile, *, sample_rate_hz: int = 48_000, level_db: float = DEFAULT_LEVEL_DB
) -> Audio:
    """Play a song into an array (frames, 2) that ends when the last voice is silent.

    Raises: FieldError if the song is longer than an hour, or for a rate or level out of range.
    """
    synth = Synth(sample_rate_hz, level_db)
    events = sorted(_song_events(song, sample_rate_hz), key=lambda event: event[:2])
    if events and events[-1][0] > _MOST_SONG_S * sample_rate_hz:
        length_s = events[-1][0] / sample_rate_hz
        raise FieldError("song length", f"at most {_MOST_SONG_S} seconds", round(length_s, 1))
    blocks: list[Audio] = []
    position = start = 0
    while start < len(events) or synth.sounding or not blocks:
        while start < len(events) and events[start][0] < position + _BLOCK:
            frame, _, voice, data = events[start]
            synth.event(voice, data, frame - position)
            start += 1
        blocks.append(synth.render(_BLOCK))
        position += _BLOCK
    blocks.append(synth.render(synth.delay_frames))
    audio: Audio = np.concatenate(blocks)[synth.delay_frames :]
    return audio


def _song_events(song: SongFile, rate_hz: int) -> list[tuple[int, int, Voice, bytes]]:
    """Frame, rank (releases first), voice and message for both ends of every note."""
    frame_at = _frames(song, rate_hz)
    events: list[tuple[int, int, Voice, bytes]] = []
    for note in song.notes:
        voice = voice_for(note, song.tracks)
        on, off = (frame_at(note.onset_ticks + t) for t in (0, note.length_ticks))
        events.append((on, 1, voice, note_on(note.channel, note.pitch, note.velocity)))
        events.append((max(off, on + 1), 0, voice, note_off(note.channel, note.pitch)))
    return events


def _frames(song: SongFile, rate_hz: int) -> Callable[[int], int]:
    """From ticks to frames by the song's tempo changes."""
    before = UNSTATED_TEMPO_BPM if song.tempos else song.tempo_bpm
    begins = [(0, 0, before)]  # tick, nanoseconds, tempo from there on
    for tick, tempo_bpm in song.tempos:
        last_tick, last_ns, last_bpm = begins[-1]
        begins.append((tick, last_ns + ticks_to_ns(tick - last_tick, last_bpm), tempo_bpm))

    def frame_at(tick: int) -> int:
        from_tick, from_ns, tempo_bpm = begins[bisect_right(begins, tick, key=itemgetter(0)) - 1]
        at_ns = from_ns + ticks_to_ns(tick - from_tick, tempo_bpm)
        return at_ns * rate_hz // NS_PER_S

    return frame_at


def write_wav(path: str | Path, audio: NDArray[np.float32], rate_hz: int) -> None:
    """Write a 16-bit stereo PCM WAV file in one step: a reader sees all of it or none.

    Args:
        path: file to write or replace.
        audio: array (frames, 2), -1 to 1; larger values are cut, NaN is silence.
        rate_hz: sample rate.
    Raises: FieldError for another shape, or if the file cannot be written.
    """
    if audio.ndim != 2 or audio.shape[1] != 2:
        raise FieldError("audio", "an array of frames by 2", audio.shape)
    whole = np.rint(np.clip(np.nan_to_num(audio), -1.0, 1.0) * _FULL_SCALE).astype("<i2")
    stream = BytesIO()
    with wave.open(stream, "wb") as file:
        file.setnchannels(2)
        file.setsampwidth(2)
        file.setframerate(rate_hz)
        file.writeframes(whole.tobytes())
    write_whole(path, stream.getvalue())
