"""Writes what 'Night Ferry' leaves behind: the take as MIDI, its sound, the window's picture."""

from __future__ import annotations

import dataclasses
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path
from typing import Final

from live.answer.grooves import find_groove, strokes
from live.answer.swing import in_force
from live.clock.units import TICKS_PER_SIXTEENTH
from live.daemon.snapshot import Snapshot
from live.faces import night_ferry as ferry
from live.faces.render_cli import SAMPLE_RATE_HZ
from live.notes.midi import DRUM_CHANNEL
from live.notes.record import Record
from live.ports.files import FileNote, SongFile, read_song
from live.takes.export import export_take
from live.takes.journal import Journal, read_take

_LEVEL_DB: Final = -14.0  # a file is played at the listener's own level; live starts quieter
PICTURE_WIDTH_PX: Final = 760  # the window's own width (its design page)


def write_midi(records: Sequence[Record], path: Path) -> None:
    """Write the records as a take, by way of a journal as the daemon keeps it."""
    with tempfile.TemporaryDirectory() as folder:
        journal_path = Path(folder) / "journal.sqlite"
        with closing(Journal(journal_path)) as journal:
            run = journal.begin_run(time.time_ns(), 0)
            journal.write(records)
            take_id = journal.last_take(run)
        path.unlink(missing_ok=True)  # an earlier demo's
        export_take(read_take(journal_path, take_id), path)


def write_sound(midi_path: Path, path: Path, groove: str) -> None:
    """Render what went out, with the drums of the groove under it."""
    from live.ports.render import render_song, write_wav

    song = with_drums(read_song(midi_path), groove)
    audio = render_song(song, sample_rate_hz=SAMPLE_RATE_HZ, level_db=_LEVEL_DB)
    write_wav(path, audio, SAMPLE_RATE_HZ)


def with_drums(song: SongFile, groove: str) -> SongFile:
    """The song as it sounds: without the pressed keys, with the groove's drums."""
    played = find_groove(groove)
    swing = in_force(played, song.metre, song.tempo_bpm, dial=0.0)
    heard = [n for n in song.notes if song.tracks[n.track : n.track + 1] != ("played",)]
    drums = [
        FileNote(
            onset_ticks=stroke.onset_ticks,
            length_ticks=TICKS_PER_SIXTEENTH,
            pitch=stroke.key,
            velocity=stroke.velocity,
            channel=DRUM_CHANNEL,
            track=len(song.tracks),
        )
        for stroke in strokes(played, ferry.BARS, song.metre, swing)
    ]
    return dataclasses.replace(song, notes=(*heard, *drums), tracks=(*song.tracks, "drums"))


def write_picture(snapshot: Snapshot, path: Path) -> str:
    """Draw the window, in a process of its own.

    Returns: why there is no picture, as a sentence; empty if there is one.
    """
    module = [sys.executable, "-m", "live.faces.ferry_picture"]
    ended = subprocess.run(
        [*module, str(path), str(PICTURE_WIDTH_PX)],
        input=snapshot.to_json(),
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )
    if ended.returncode == 0:
        return ""
    reason = ended.stderr.strip().splitlines()[-1:] or [f"Qt ended with {ended.returncode}"]
    return f"No picture, because the window cannot be drawn here: {reason[0]}"
