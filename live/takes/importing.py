"""A Standard MIDI File becomes a take: listed, read and exported like one that was played."""

from __future__ import annotations

import re
import time
from bisect import bisect_right
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import Final

from live.clock.units import (
    FILE_TEMPOS,
    MAX_TEMPO_BPM,
    MIN_TEMPO_BPM,
    UNSTATED_TEMPO_BPM,
    ticks_to_ns,
)
from live.notes.events import ANSWER, KEYS_IN, THROUGH
from live.notes.facts import fact
from live.notes.midi import note_off, note_on
from live.notes.record import Record
from live.ports.files import FileNote, SongFile, read_song
from live.takes.journal import Journal
from live.takes.meaning import PARTS, TO, tempo_of
from live.theory.errors import FieldError

_PLACES: Final = {
    "played": [("in", KEYS_IN)],
    "through": [("out", THROUGH)],
    "answer": [("out", ANSWER)],
}
_OTHER_PLACES: Final = [("in", KEYS_IN), ("out", THROUGH)]
_OWN_NAME: Final = re.compile(rf"({'|'.join(PARTS)}|{TO}.+?)( \d+)?")  # with the channel, if any


def import_song(journal_path: Path | str, midi_path: Path | str) -> int:
    """Add a file to the journal as a take of a run of its own.

    Notes, tempo, the first metre and the first key are taken in; controllers are not. Tracks
    that carry the names an export gives (`played`, `through`, `answer`, `to NAME`) go back there;
    a track of any other name counts as played and as gone through unchanged.

    Returns: the take's id.
    Raises: FieldError if the file cannot be read; JournalError.
    """
    return add_song(journal_path, read_song(midi_path), Path(midi_path).name)


def add_song(journal_path: Path | str, song: SongFile, origin: str) -> int:
    """As `import_song`, with a song that was read and the name of its file."""
    records = song_records(song)
    with closing(Journal(journal_path)) as journal:
        run = journal.begin_run(time.time_ns(), 0, origin=origin)
        journal.write(records)
        return journal.last_take(run)


def unplayable_tempos(song: SongFile) -> list[float]:
    """Tempos of a song at which Undersong does not run, ascending, each once."""
    tempos = {song.tempo_bpm, *(tempo for _, tempo in song.tempos)}
    return sorted(tempo for tempo in tempos if not MIN_TEMPO_BPM <= tempo <= MAX_TEMPO_BPM)


def song_records(song: SongFile) -> list[Record]:
    """What would have been recorded had the song been played from time 0. Pure.

    Raises: FieldError for a tempo that cannot be written again.
    """
    ns_at = _clock(song)
    bar_ticks = song.metre.bar_ticks
    edges = sorted(_edges(song), key=lambda edge: edge[:2])
    bars = -(-max((ticks for ticks, _, _ in edges), default=0) // bar_ticks)
    start = {"bar": 0, "beat": 0.0, "tempo": _first_tempo(song), "metre": str(song.metre)}
    return [
        *([fact("key", 0, key=song.key_text)] if song.key_text else []),
        fact("start", 0, **start),
        *(record._replace(at_ns=ns_at(ticks)) for ticks, _, record in edges),
        Record(ns_at(bars * bar_ticks), "stop"),
    ]


_Edge = tuple[int, int, Record]
"""(ticks, order of what falls on one tick, record without a time)."""


def _edges(song: SongFile) -> Iterator[_Edge]:
    """Ends of notes, changes of tempo, beginnings of notes."""
    for ticks, tempo in song.tempos:
        if ticks > 0:
            yield ticks, 1, fact("tempo", 0, tempo=tempo)
    for (kind, port), notes in _by_place(song).items():
        for note in _one_at_a_time(notes):
            on = note_on(note.channel, note.pitch, note.velocity)
            off = note_off(note.channel, note.pitch)
            yield note.onset_ticks, 2, Record(0, kind, port, on)
            yield note.onset_ticks + note.length_ticks, 0, Record(0, kind, port, off)


def _by_place(song: SongFile) -> dict[tuple[str, str], list[FileNote]]:
    found: dict[tuple[str, str], list[FileNote]] = {}
    for note in song.notes:
        own = _OWN_NAME.fullmatch(song.tracks[note.track])
        for place in _places(own[1]) if own else _OTHER_PLACES:
            found.setdefault(place, []).append(note)
    return found


def _places(track: str) -> list[tuple[str, str]]:
    return _PLACES.get(track) or [("out", track.removeprefix(TO))]


def _one_at_a_time(notes: list[FileNote]) -> Iterator[FileNote]:
    """Tracks may share a channel: a note ends where the same one is struck again."""
    struck: dict[tuple[int, int], FileNote] = {}
    for note in sorted(notes, key=lambda note: (note.onset_ticks, note.length_ticks)):
        where = (note.channel, note.pitch)
        before = struck.get(where)
        struck[where] = note
        if before and before.onset_ticks < note.onset_ticks:
            room = note.onset_ticks - before.onset_ticks
            yield replace(before, length_ticks=min(before.length_ticks, room))
    yield from struck.values()


def _first_tempo(song: SongFile) -> float:
    """The tempo at tick 0: a file may state its first one later."""
    stated = not song.tempos or song.tempos[0][0] == 0
    return song.tempo_bpm if stated else UNSTATED_TEMPO_BPM


def _clock(song: SongFile) -> Callable[[int], int]:
    """From ticks to nanoseconds, by the file's tempos."""
    stretches = [(0, 0, _first_tempo(song))]
    for ticks, tempo in song.tempos:
        from_ticks, from_ns, before = stretches[-1]
        stretches.append((ticks, from_ns + ticks_to_ns(ticks - from_ticks, before), tempo))
    for _, _, tempo in stretches:
        if tempo_of({"tempo": tempo}) is None:
            raise FieldError("tempo", FILE_TEMPOS, tempo)

    def ns_at(ticks: int) -> int:
        at = bisect_right(stretches, ticks, key=lambda stretch: stretch[0]) - 1
        from_ticks, from_ns, tempo = stretches[at]
        return from_ns + ticks_to_ns(ticks - from_ticks, tempo)

    return ns_at
