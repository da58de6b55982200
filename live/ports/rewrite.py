"""The notes of a file moved, everything else left as it stands, byte for byte."""

from __future__ import annotations

import struct
from collections import defaultdict, deque
from collections.abc import Callable
from pathlib import Path
from typing import Final

from live.clock.units import TICKS_PER_BEAT
from live.notes.midi import DRUM_CHANNEL, NOTE_OFF, NOTE_ON, POLY_PRESSURE
from live.ports.atomic import write_whole
from live.ports.smf import SYSEX, RawEvent, RawFile, RawTrack, read_raw, write_number

MoveNote = Callable[[int, int | None], int]
"""move(pressed, note pressed before on this track and channel) -> sounding note, -1 silent."""

MoveNoteAt = Callable[[int, int | None, int], int]
"""The same with the onset, in ticks at 960 a beat (0 throughout for a file in SMPTE time)."""

SILENT: Final = -1


def transform_notes(
    in_path: str | Path, out_path: str | Path, move: MoveNote
) -> tuple[int, int, int]:
    """Write a copy of a file with its notes moved.

    Channel 10 is left alone. Every note-on that stays gets exactly one note-off, on the pitch
    that sounds; two notes that land on one pitch end in the order in which they began. A
    note-off that ends nothing stays as it is; key pressure follows its note.

    Args:
        in_path: a Standard MIDI File of any format.
        out_path: may be the same file.
        move: gives the sounding note, 0 to 127, or -1 to leave the note out.
    Returns: (notes in the file, notes moved, notes left out); drums count as notes.
    Raises: FieldError("file", ...) if one cannot be read or the other not written.
    Thread: any.
    """
    return transform_notes_at(in_path, out_path, lambda note, before, _: move(note, before))


def transform_notes_at(
    in_path: str | Path, out_path: str | Path, move: MoveNoteAt
) -> tuple[int, int, int]:
    """As `transform_notes`, for moves that depend on the place, as with chords."""
    raw = read_raw(in_path)
    rewriters = [_Rewriter(track, raw, move) for track in raw.tracks]
    new_tracks = iter([rewriter.content() for rewriter in rewriters])
    chunks = [
        (letters, next(new_tracks) if letters == b"MTrk" else content)
        for letters, content in raw.chunks
    ]
    packed = (struct.pack(">4sI", letters, len(content)) + content for letters, content in chunks)
    write_whole(out_path, b"".join(packed))
    return (
        sum(one.notes for one in rewriters),
        sum(one.moved for one in rewriters),
        sum(one.muted for one in rewriters),
    )


class _Rewriter:
    """Moves the notes of one track."""

    def __init__(self, track: RawTrack, raw: RawFile, move: MoveNoteAt) -> None:
        self._track = track
        self._division = max(raw.division, 0)
        self._move = move
        self._held: dict[tuple[int, int], deque[int]] = defaultdict(deque)
        self._before: dict[int, int] = {}
        self.notes = self.moved = self.muted = 0

    def content(self) -> bytes:
        """The track chunk's new content."""
        out = bytearray()
        at, running, gap = 0, 0, False
        for event in self._track.events:
            pitch = self._new_pitch(event)
            if pitch == SILENT:
                gap = True
                continue
            out += write_number(event.tick - at) if gap else event.delta
            at, gap = event.tick, False
            out += _encoded(event, pitch, running)
            if event.status < SYSEX:
                running = event.status
        return bytes(out + self._track.rest)

    def _new_pitch(self, event: RawEvent) -> int | None:
        """The pitch to write, SILENT to leave the event out, None to leave it as it is.

        Drums are never held, so what follows a drum's note-on is left as it is as well.
        """
        kind, channel = event.status & 0xF0, event.status & 0x0F
        if kind == NOTE_ON and event.data[1]:
            self.notes += 1
            return None if channel == DRUM_CHANNEL else self._begin(event, channel)
        if kind not in {NOTE_ON, NOTE_OFF, POLY_PRESSURE}:
            return None
        held = self._held[channel, event.data[0]]
        if not held:
            return None
        return held[-1] if kind == POLY_PRESSURE else held.popleft()

    def _begin(self, event: RawEvent, channel: int) -> int:
        """A note-on: decide, and remember for its note-off."""
        pressed = event.data[0]
        onset = event.tick * TICKS_PER_BEAT // self._division if self._division else 0
        sounding = self._move(pressed, self._before.get(channel), onset)
        self._before[channel] = pressed
        self._held[channel, pressed].append(sounding)
        self.muted += sounding == SILENT
        self.moved += sounding not in {SILENT, pressed}
        return sounding


def _encoded(event: RawEvent, pitch: int | None, running: int) -> bytes:
    """The event's bytes; a status that no longer runs on is written out."""
    if event.status >= SYSEX:
        return event.raw
    data = event.data if pitch is None else bytes((pitch,)) + event.data[1:]
    runs_on = len(event.raw) == len(event.data) and running == event.status
    return data if runs_on else bytes((event.status,)) + data
