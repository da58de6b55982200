"""Standard MIDI Files, the entry for other packages; what is written goes through mido here.

Written files are format 1 with 960 ticks a beat, tempo track first, text in ASCII.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Final

import mido

from live.clock.metre import Metre
from live.clock.units import FILE_TEMPOS, TICKS_PER_BEAT, UNSTATED_TEMPO_BPM, beat_us
from live.notes.midi import RELEASE_VELOCITY
from live.notes.phrase import PhraseNote
from live.notes.split import is_whole
from live.ports.atomic import write_whole
from live.ports.rewrite import transform_notes, transform_notes_at
from live.ports.song_reader import KEY_TEXT, FileNote, SongFile, read_song
from live.theory.errors import FieldError
from live.theory.keys import Key
from live.theory.pitch import Spelling

__all__ = [
    "FileNote",
    "SongFile",
    "TrackOut",
    "read_song",
    "transform_notes",
    "transform_notes_at",
    "write_song",
]

_ASCII_SIGNS: Final = str.maketrans({"♭": "b", "♯": "#", "♮": "", "𝄫": "bb", "𝄪": "##", "–": "-"})

_META, _OFF, _MESSAGE, _ON = range(4)
"""Order of what falls on one tick."""

_Row = tuple[int, int, mido.Message | mido.MetaMessage]


@dataclass(frozen=True)
class TrackOut:
    """A track to write.

    Args:
        name: track name; written in ASCII.
        channel: 0 to 15.
        notes: from the song's first bar line.
        messages: (tick, raw bytes) of controllers and other channel messages or sysex.
    """

    name: str
    channel: int
    notes: tuple[PhraseNote, ...]
    messages: tuple[tuple[int, bytes], ...] = ()


def write_song(
    path: str | Path,
    tracks: Sequence[TrackOut],
    *,
    tempo_bpm: float = UNSTATED_TEMPO_BPM,
    metre: Metre | None = None,
    key: Key | None = None,
    markers: Sequence[tuple[int, str]] = (),
    tempos: Sequence[tuple[int, float]] = (),
) -> None:
    """Write a song; every track is as long as the last bar that holds a note.

    Args:
        path: in a folder that exists; a file there is replaced at once and as a whole.
        tracks: what to play; the tempo track comes before them.
        tempo_bpm: quarter notes a minute from the start, within `units.FILE_TEMPOS`.
        metre: time signature, 4/4 if None.
        key: written as a key signature (the major or minor one) and in words.
        markers: (tick, text).
        tempos: (tick, quarter notes a minute) of later changes.
    Raises: FieldError naming what cannot be written.
    Thread: any.
    """
    metre = metre or Metre()
    rows = [_track_rows(track) for track in tracks]
    conductor = _conductor_rows(tempo_bpm, metre, key, markers, tempos)
    last = max((tick for track in (conductor, *rows) for tick, _, _ in track), default=0)
    end = -(-last // metre.bar_ticks) * metre.bar_ticks
    song = mido.MidiFile(type=1, ticks_per_beat=TICKS_PER_BEAT)
    song.tracks.append(_track("tempo", conductor, end))
    for track, track_rows in zip(tracks, rows, strict=True):
        song.tracks.append(_track(track.name, track_rows, end))
    content = BytesIO()
    song.save(file=content)
    write_whole(path, content.getvalue())


def _conductor_rows(
    tempo_bpm: float,
    metre: Metre,
    key: Key | None,
    markers: Sequence[tuple[int, str]],
    tempos: Sequence[tuple[int, float]],
) -> list[_Row]:
    """Everything that is not on a track of notes."""
    signature = mido.MetaMessage("time_signature", numerator=metre.beats, denominator=metre.unit)
    rows = [(0, _META, signature)]
    if key is not None:
        rows.append((0, _META, mido.MetaMessage("key_signature", key=_signature(key))))
        rows.append((0, _META, mido.MetaMessage("text", text=_ascii(KEY_TEXT + key.name))))
    if not any(tick == 0 for tick, _ in tempos):
        tempos = [(0, tempo_bpm), *tempos]
    for tick, bpm in tempos:
        rows.append((_tick(tick), _META, mido.MetaMessage("set_tempo", tempo=_tempo_us(bpm))))
    for tick, text in markers:
        rows.append((_tick(tick), _META, mido.MetaMessage("marker", text=_ascii(text))))
    return rows


def _signature(key: Key) -> str:
    """Mido's name of the key signature: a tonic, and m for minor."""
    sharps, minor = key.signature
    return Spelling(sharps + (3 if minor else 0)).name + ("m" if minor else "")


def _tempo_us(bpm: float) -> int:
    """Microseconds in a beat."""
    us = beat_us(bpm)
    if us is None:
        raise FieldError("tempo", FILE_TEMPOS, bpm)
    return us


def _tick(tick: int) -> int:
    if tick < 0:
        raise FieldError("position", "0 ticks or later", tick)
    return tick


def _track_rows(track: TrackOut) -> list[_Row]:
    """Notes and messages of one track."""
    if not 0 <= track.channel <= 15:
        raise FieldError("channel", "0 to 15", track.channel, track.name)
    rows: list[_Row] = []
    for note in track.notes:
        _check(note, track.name)
        here = {"channel": track.channel, "note": note.pitch}
        begin = mido.Message("note_on", velocity=note.velocity, **here)
        end = mido.Message("note_off", velocity=RELEASE_VELOCITY, **here)
        rows.append((note.onset_ticks, _ON, begin))
        rows.append((note.onset_ticks + note.length_ticks, _OFF, end))
    for tick, data in track.messages:
        if not is_whole(data) or data[0] > 0xF0:
            wanted = "a whole channel message or system exclusive"
            raise FieldError("message", wanted, data.hex(" "), track.name)
        rows.append((_tick(tick), _MESSAGE, mido.Message.from_bytes(data)))
    return rows


def _check(note: PhraseNote, where: str) -> None:
    """A note that a file can hold."""
    in_range = 0 <= note.pitch <= 127 and 1 <= note.velocity <= 127
    if not in_range or note.onset_ticks < 0 or note.length_ticks < 1:
        wanted = "pitch 0 to 127, velocity 1 to 127, onset 0 or more, length 1 or more"
        raise FieldError("note", wanted, note, where)


def _track(name: str, rows: list[_Row], end: int) -> mido.MidiTrack:
    """A named track of `end` ticks, with the rows in order."""
    track = mido.MidiTrack([mido.MetaMessage("track_name", name=_ascii(name))])
    at = 0
    for tick, _, message in sorted(rows, key=lambda row: row[:2]):
        track.append(message.copy(time=tick - at))
        at = tick
    track.append(mido.MetaMessage("end_of_track", time=end - at))
    return track


def _ascii(text: str) -> str:
    """Printable ASCII, which every program reads alike (RP-001, text events)."""
    plain = unicodedata.normalize("NFKD", text.translate(_ASCII_SIGNS))
    kept = (c for c in plain if not unicodedata.combining(c))
    return "".join(c if " " <= c <= "~" else "?" for c in kept)
