"""MIDI files as the offline commands see them."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from live.clock.units import ticks_to_beats
from live.notes.midi import DRUM_CHANNEL
from live.ports.files import FileNote, SongFile
from live.theory.errors import FieldError
from live.theory.keyfind import find_piece_key
from live.theory.keys import Key


def pitched_notes(song: SongFile) -> list[FileNote]:
    """Every note that has a pitch (not on the drum channel), by onset, then pitch."""
    notes = (n for n in song.notes if n.channel != DRUM_CHANNEL)
    return sorted(notes, key=lambda n: (n.onset_ticks, n.pitch))


def rank_keys_of(notes: Sequence[FileNote], path: str) -> list[tuple[Key, float]]:
    """Keys by probability, best first.

    Raises: FieldError when there is no note to judge by.
    """
    if not notes:
        raise FieldError("file", "a MIDI file with at least one note outside channel 10", path)
    return find_piece_key(
        (ticks_to_beats(n.onset_ticks), ticks_to_beats(n.length_ticks), n.pitch) for n in notes
    )


def write_folder(path: str) -> Path:
    """The folder, made if it is missing.

    Raises: FieldError when it cannot be made.
    """
    folder = Path(path)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        got = f"{path}: {error.strerror}"
        raise FieldError("folder", "a place where a folder can be made", got) from error
    return folder
