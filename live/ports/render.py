"""Songs as sound: MIDI files played by the built-in voices into WAV files. No device here."""

from __future__ import annotations

import wave
from bisect import bisect_right
from collections.abc import Callable
from io import BytesIO
from operator import itemgetter
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from live.clock.units import NS_PER_S, UNSTATED_TEMPO_BPM, ticks_to_ns
from live.notes.midi import DRUM_CHANNEL, note_off, note_on
from live.ports.atomic import write_whole
from live.ports.bulk import BulkBank, BulkDrums
from live.ports.files import FileNote, SongFile
from live.ports.limiter import Audio
from live.ports.synth import DEFAULT_LEVEL_DB, Synth, Voice
from live.ports.voices import Tone
from live.theory.errors import FieldError

_BLOCK: Final = 1024
_GATHER_BLOCKS: Final = 256
"""Blocks that are worked out together: 5 s at 48 kHz, a few megabytes."""
_MOST_SONG_S: Final = 3600
_FULL_SCALE: Final = 32767
_WRITE_FRAMES: Final = 65_536


class BulkSynth(Synth):
    """A synth that works out many blocks at once: the same samples, in a fraction of the time."""

    def __init__(self, sample_rate_hz: int, level_db: float) -> None:
        self._bulk: list[BulkBank | BulkDrums] = []
        super().__init__(sample_rate_hz, level_db, bank=self._make_bank, drums=self._make_drums)
        self._gathered = 0

    def advance(self, frames: int) -> None:
        """Play what is due in the next `frames`; they sound when they are gathered."""
        self._advance(frames)
        self._gathered += frames

    def gather(self) -> Audio:
        """All frames since the last time, (frames, 2); at least one."""
        mix: Audio = np.zeros(self._gathered, np.float32)
        for source in self._bulk:
            sound = source.gather()
            if sound is not None:
                mix += sound
        self._gathered = 0
        return self._finish(mix)

    def _make_bank(self, tone: Tone, sample_rate_hz: float, voices: int) -> BulkBank:
        self._bulk.append(bank := BulkBank(tone, sample_rate_hz, voices))
        return bank

    def _make_drums(self, sample_rate_hz: int) -> BulkDrums:
        self._bulk.append(drums := BulkDrums(sample_rate_hz))
        return drums


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
    synth = BulkSynth(sample_rate_hz, level_db)
    events = sorted(_song_events(song, sample_rate_hz), key=lambda event: event[:2])
    if events and events[-1][0] > _MOST_SONG_S * sample_rate_hz:
        length_s = events[-1][0] / sample_rate_hz
        raise FieldError("song length", f"at most {_MOST_SONG_S} seconds", round(length_s, 1))
    blocks: list[Audio] = []
    position = start = 0
    while start < len(events) or synth.sounding or not position:
        while start < len(events) and events[start][0] < position + _BLOCK:
            frame, _, voice, data = events[start]
            synth.event(voice, data, frame - position)
            start += 1
        synth.advance(_BLOCK)
        position += _BLOCK
        if position % (_GATHER_BLOCKS * _BLOCK) == 0:
            blocks.append(synth.gather())
    synth.advance(synth.delay_frames)
    blocks.append(synth.gather())
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
    whole = np.empty(audio.shape, "<i2")
    for start in range(0, len(audio), _WRITE_FRAMES):  # what fits the processor's memory is fast
        part = audio[start : start + _WRITE_FRAMES]
        whole[start : start + _WRITE_FRAMES] = np.rint(
            np.clip(np.nan_to_num(part), -1.0, 1.0) * _FULL_SCALE
        )
    stream = BytesIO()
    with wave.open(stream, "wb") as file:
        file.setnchannels(2)
        file.setsampwidth(2)
        file.setframerate(rate_hz)
        file.writeframes(whole.data)
    write_whole(path, stream.getvalue())
