"""Reads Standard MIDI Files with mido, for the tests of this folder; strict about ons and offs."""

from __future__ import annotations

from collections import defaultdict
from pathlib import Path
from typing import NamedTuple

import mido


class Note(NamedTuple):
    onset: int
    length: int
    pitch: int
    velocity: int
    channel: int


def timed(track):
    """(ticks, message) with ticks from the start of the file."""
    ticks, found = 0, []
    for message in track:
        ticks += message.time
        found.append((ticks, message))
    return found


def notes_of(track) -> list[Note]:
    """Notes by onset and pitch; fails if an on has not exactly one off, or notes overlap."""
    sounding, found = {}, []
    for ticks, message in timed(track):
        if message.type not in ("note_on", "note_off"):
            continue
        where = (message.channel, message.note)
        if message.type == "note_on" and message.velocity:
            assert where not in sounding, f"{where} struck at {ticks} while it sounds"
            sounding[where] = (ticks, message.velocity)
        else:
            assert where in sounding, f"{where} ended at {ticks} and did not sound"
            onset, velocity = sounding.pop(where)
            found.append(Note(onset, ticks - onset, message.note, velocity, message.channel))
    assert not sounding, f"never ended: {sounding}"
    return sorted(found)


class Song(NamedTuple):
    file: mido.MidiFile
    notes: dict[str, list[Note]]
    messages: dict[str, list[tuple[int, mido.Message]]]  # all that is neither note nor meta
    meta: dict[str, list[tuple[int, mido.MetaMessage]]]  # by type, of all tracks


def read(path: Path) -> Song:
    file = mido.MidiFile(path)
    notes, messages, meta = {}, {}, defaultdict(list)
    for track in file.tracks:
        content = timed(track)
        for ticks, message in content:
            if message.is_meta:
                meta[message.type].append((ticks, message))
        if notes_of(track) or any(not m.is_meta for m in track):
            assert track.name not in notes, "two tracks of one name"
            notes[track.name] = notes_of(track)
            messages[track.name] = [
                (ticks, m)
                for ticks, m in content
                if not m.is_meta and m.type not in ("note_on", "note_off")
            ]
    return Song(file, notes, messages, dict(meta))


def markers(song: Song) -> list[tuple[int, str]]:
    return sorted((ticks, m.text) for ticks, m in song.meta.get("marker", []))
