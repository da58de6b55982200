"""MIDI music that ships in two Debian packages, read with the product's own reader.

freedoom (BSD-3-Clause): the music lumps of its WAD files, for study and training. openttd-openmsx
(GPL-2): for judging only; no study, table or tuning may read it.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from live.clock.units import TICKS_PER_BEAT, UNSTATED_TEMPO_BPM
from live.notes.midi import NOTE_OFF, NOTE_ON
from live.ports.smf import TEMPO, TIME_SIGNATURE, RawFile, RawTrack, parse

DOOM = Path("/usr/share/games/doom")
OPENMSX = Path("/usr/share/games/openttd/baseset/openmsx")

DRUMS = 9
PROGRAM_CHANGE = 0xC0

Played = tuple[float, float, int, int]
"""Onset and length in ticks, key, velocity."""


class DrumSong(NamedTuple):
    """The drums of a song in 4/4: (onset in ticks as played, key, velocity), by onset."""

    name: str
    tempo_bpm: float
    strokes: tuple[tuple[int, int, int], ...]


def drum_songs(source: str) -> list[DrumSong]:
    """Every song of `freedoom` or `openmsx` (judging only) that is in 4/4 and has drums, once."""
    found: dict[tuple[tuple[int, int, int], ...], DrumSong] = {}
    for name, song in songs(source):
        if metres(song) - {(4, 4)}:
            continue
        scale = TICKS_PER_BEAT / song.division
        strokes = tuple(
            sorted(
                (round(note[0]), note[2], note[3])
                for track in song.tracks
                for _, channel, note in played_notes(track, scale)
                if channel == DRUMS
            )
        )
        if strokes:
            found.setdefault(strokes, DrumSong(name, tempo_bpm(song), strokes))
    return list(found.values())


def songs(source: str) -> Iterator[tuple[str, RawFile]]:
    if source == "freedoom":
        lumps = [lump for path in sorted(DOOM.glob("freedoom*.wad")) for lump in wad_music(path)]
    elif source == "openmsx":
        lumps = [(path.stem, path.read_bytes()) for path in sorted(OPENMSX.glob("*.mid"))]
    else:
        raise ValueError(f"source: freedoom or openmsx, got {source!r}")
    if not lumps:
        raise FileNotFoundError(f"no music: install the Debian package of {source}")
    for name, data in lumps:
        yield name, parse(data, name)


def wad_music(path: Path) -> Iterator[tuple[str, bytes]]:
    """(name, bytes) of each MIDI lump of a WAD file.

    Layout (the published WAD specification): 4 letters, number of lumps and offset of the
    directory as 32-bit little-endian; an entry is offset, length and a name of 8 bytes.
    """
    data = path.read_bytes()
    count, directory = struct.unpack("<4xII", data[:12])
    for entry in range(count):
        at, size, name = struct.unpack_from("<II8s", data, directory + 16 * entry)
        if data[at : at + 4] == b"MThd":
            yield f"{path.stem}:{name.rstrip(bytes(1)).decode('ascii')}", data[at : at + size]


def metres(song: RawFile) -> set[tuple[int, int]]:
    events = (event for track in song.tracks for event in track.events)
    return {(e.data[0], 2 ** e.data[1]) for e in events if e.meta == TIME_SIGNATURE}


def tempo_bpm(song: RawFile) -> float:
    """The middle one of a song's tempos."""
    events = [event for track in song.tracks for event in track.events if event.meta == TEMPO]
    tempos = sorted(60e6 / int.from_bytes(event.data) for event in events)
    return round(tempos[len(tempos) // 2], 3) if tempos else UNSTATED_TEMPO_BPM


def played_notes(track: RawTrack, scale: float) -> Iterator[tuple[int, int, Played]]:
    """(program, channel, note) by the notes' ends; a note struck again ends there."""
    programs: dict[int, int] = {}
    sounding: dict[tuple[int, int], tuple[int, int]] = {}
    for event in track.events:
        kind, channel = event.status & 0xF0, event.status & 0x0F
        if kind == PROGRAM_CHANGE:
            programs[channel] = event.data[0]
        elif kind in {NOTE_ON, NOTE_OFF}:
            place = channel, event.data[0]
            if place in sounding:
                begun, velocity = sounding.pop(place)
                length = max(1, event.tick - begun)
                note = begun * scale, length * scale, place[1], velocity
                yield programs.get(channel, 0), channel, note
            if kind == NOTE_ON and event.data[1]:
                sounding[place] = event.tick, event.data[1]
