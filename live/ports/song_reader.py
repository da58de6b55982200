"""Songs from Standard MIDI Files. Other packages import it from `live.ports.files`."""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from live.clock.metre import Metre
from live.clock.units import TICKS_PER_BEAT, UNSTATED_TEMPO_BPM, file_tempo_bpm
from live.notes.midi import NOTE_OFF, NOTE_ON
from live.ports.smf import (
    KEY_SIGNATURE,
    TEMPO,
    TEXT,
    TIME_SIGNATURE,
    TRACK_NAME,
    RawEvent,
    RawFile,
    RawTrack,
    read_raw,
)
from live.theory.errors import FieldError
from live.theory.keys import parse_key
from live.theory.pitch import Spelling

KEY_TEXT: Final = "Key: "
"""Begins the text event that names the key in full; a key signature knows major and minor only."""


@dataclass(frozen=True)
class FileNote:
    """One note of a file.

    Args:
        onset_ticks: from the start of the file, at 960 ticks a beat.
        length_ticks: 1 or more; a note that never ends lasts until the end of its track.
        pitch: 0 to 127.
        velocity: 1 to 127.
        channel: 0 to 15.
        track: number of the track chunk, from 0.
    """

    onset_ticks: int
    length_ticks: int
    pitch: int
    velocity: int
    channel: int
    track: int


@dataclass(frozen=True)
class SongFile:
    """What we take from a file.

    Args:
        notes: by onset, then track, then pitch.
        tempo_bpm: the first tempo, in quarter notes a minute.
        metre: the first time signature.
        key_text: the key in words that `parse_key` understands, None if the file has none.
        tracks: track names, "" for a track without one.
        tempos: (tick, quarter notes a minute) of every tempo event, in order.
    """

    notes: tuple[FileNote, ...]
    tempo_bpm: float
    metre: Metre
    key_text: str | None
    tracks: tuple[str, ...]
    tempos: tuple[tuple[int, float], ...] = ()


def read_song(path: str | Path) -> SongFile:
    """Read a Standard MIDI File of format 0 or 1.

    Raises: FieldError("file", ...) for anything that is wrong with the file.
    Thread: any.
    """
    raw = read_raw(path)
    if raw.format == 2:
        raise FieldError("file", "format 0 or 1, one song in a file", 2, str(path))
    file_tempos = [(event.tick, _tempo_bpm(event, path)) for event in _metas(raw, TEMPO)]
    tempo_bpm = file_tempos[0][1] if file_tempos else UNSTATED_TEMPO_BPM
    to_ticks = _scale(raw, tempo_bpm)
    notes = [n for t, track in enumerate(raw.tracks) for n in _notes(track, t, to_ticks)]
    notes.sort(key=lambda note: (note.onset_ticks, note.track, note.pitch))
    return SongFile(
        notes=tuple(notes),
        tempo_bpm=tempo_bpm,
        metre=_metre(raw, path),
        key_text=_key_text(raw),
        tracks=tuple(_name(track) for track in raw.tracks),
        tempos=tuple((to_ticks(tick), bpm) for tick, bpm in file_tempos),
    )


def _metas(raw: RawFile, kind: int) -> list[RawEvent]:
    """Meta events of one kind from all tracks, by tick."""
    found = [event for track in raw.tracks for event in track.events if event.meta == kind]
    return sorted(found, key=lambda event: event.tick)


def _tempo_bpm(event: RawEvent, path: str | Path) -> float:
    us = int.from_bytes(event.data)
    if len(event.data) != 3 or us == 0:
        raise FieldError("file", "a tempo of 3 bytes above 0", event.data.hex(" "), str(path))
    return file_tempo_bpm(us)


def _scale(raw: RawFile, tempo_bpm: float) -> Callable[[int], int]:
    """From the file's ticks to 960 a beat; SMPTE time is taken at the first tempo."""
    ticks_a_second = raw.ticks_a_second
    if ticks_a_second is not None:
        factor = TICKS_PER_BEAT * tempo_bpm / 60 / ticks_a_second
        return lambda tick: round(tick * factor)
    division = raw.division
    return lambda tick: (tick * TICKS_PER_BEAT + division // 2) // division


def _notes(track: RawTrack, number: int, to_ticks: Callable[[int], int]) -> Iterator[FileNote]:
    """Pair note-ons and note-offs: the first one on is the first one off."""
    sounding: dict[tuple[int, int], deque[tuple[int, int]]] = defaultdict(deque)

    def ended(channel: int, pitch: int, tick: int) -> FileNote:
        begun, velocity = sounding[channel, pitch].popleft()
        onset = to_ticks(begun)
        length = max(1, to_ticks(tick) - onset)
        return FileNote(onset, length, pitch, velocity, channel, number)

    for event in track.events:
        kind, channel = event.status & 0xF0, event.status & 0x0F
        if kind == NOTE_ON and event.data[1]:
            sounding[channel, event.data[0]].append((event.tick, event.data[1]))
        elif kind in {NOTE_ON, NOTE_OFF} and sounding[channel, event.data[0]]:
            yield ended(channel, event.data[0], event.tick)
    last = track.events[-1].tick if track.events else 0
    for (channel, pitch), begun in sounding.items():
        for _ in range(len(begun)):
            yield ended(channel, pitch, last)


def _metre(raw: RawFile, path: str | Path) -> Metre:
    """The first time signature; the lower number is stored as a power of two."""
    for event in _metas(raw, TIME_SIGNATURE):
        if len(event.data) < 2:
            raise FieldError("file", "a time signature of 4 bytes", event.data.hex(" "), str(path))
        try:
            return Metre(event.data[0], 2 ** event.data[1])
        except FieldError as error:
            got = f"{event.data[0]}/2^{event.data[1]}"
            raise FieldError("file", f"a metre of {error.allowed}", got, str(path)) from error
    return Metre()


def _key_text(raw: RawFile) -> str | None:
    """Our own words if they are there, else the signature; a bad signature says nothing."""
    for event in _metas(raw, TEXT):
        text = _text(event.data)
        if text.startswith(KEY_TEXT):
            try:
                return parse_key(text.removeprefix(KEY_TEXT)).name
            except FieldError:
                continue
    for event in _metas(raw, KEY_SIGNATURE):
        sharps = int.from_bytes(event.data[:1], signed=True)
        if len(event.data) == 2 and -7 <= sharps <= 7 and event.data[1] in {0, 1}:
            tonic = Spelling(sharps + 3 * event.data[1]).name
            return f"{tonic} {'minor' if event.data[1] else 'major'}"
    return None


def _name(track: RawTrack) -> str:
    """The track's name."""
    named = (_text(event.data) for event in track.events if event.meta == TRACK_NAME)
    return next(named, "")


def _text(data: bytes) -> str:
    """UTF-8 if it is, else Latin-1; RP-001 leaves codes above ASCII open."""
    try:
        return data.decode()
    except UnicodeDecodeError:
        return data.decode("latin-1")
