"""`undersong takes`: list, export and import what the journal holds."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import Final, Literal

from live.clock.units import MAX_TEMPO_BPM, MIN_TEMPO_BPM
from live.daemon.settings import journal_path, load
from live.faces.output import emit_json, failing_on, plural, say, say_columns
from live.faces.values import whole_number
from live.ports.files import read_song
from live.takes.database import JournalError
from live.takes.facade import DRUMS, add_song, export, list_takes, unplayable_tempos
from live.takes.take import TakeInfo
from live.theory.errors import FieldError
from live.theory.pitch import pretty

_LARGEST_ID: Final = 2**31 - 1
_MOST_TOLD: Final = 4  # tempos in a sentence


def run_list(args: argparse.Namespace) -> int:
    """List the takes, oldest first."""
    with failing_on(JournalError):
        takes = list_takes(_journal(args))
    if args.json:
        emit_json({"takes": [_info_json(take) for take in takes]})
    elif not takes:
        say("no takes yet")
    else:
        _tell_takes(takes)
    return 0


def run_export(args: argparse.Namespace) -> int:
    """Write takes as MIDI files."""
    wanted = _wanted(args.ids)
    with failing_on(JournalError):
        written = export(_journal(args), wanted, args.out, drums=args.drums)
    if args.json:
        emit_json({"files": [str(report.path) for report in written]})
    else:
        for report in written:
            say(f"written to {report.path}: {', '.join(report.tracks) or 'no notes'}")
            if args.drums and DRUMS not in report.tracks:
                say("  no drums: the transport did not run, or no groove was noted")
    return 0


def run_import(args: argparse.Namespace) -> int:
    """Make a take of a MIDI file."""
    song = read_song(args.source)
    with failing_on(JournalError):
        take_id = add_song(_journal(args), song, Path(args.source).name)
    beyond = unplayable_tempos(song)
    if args.json:
        emit_json({"id": take_id, "file": args.source, "unplayable_tempos": beyond})
        return 0
    say(f"{args.source} is now take {take_id}")
    if beyond:
        told = ", ".join(f"{tempo:.6g}" for tempo in beyond[:_MOST_TOLD])
        more = f" and {len(beyond) - _MOST_TOLD} more" if len(beyond) > _MOST_TOLD else ""
        runs = f"{MIN_TEMPO_BPM:g} to {MAX_TEMPO_BPM:g}"
        say(f"  kept, but Undersong itself runs at {runs} BPM only: {told}{more}")
    return 0


def _journal(args: argparse.Namespace) -> Path:
    return journal_path(load(None if args.config is None else Path(args.config)))


def _wanted(texts: Sequence[str]) -> list[int] | Literal["last"]:
    if list(texts) in ([], ["last"]):
        return "last"
    if "last" in texts:
        raise FieldError("take", "either last, or numbers", " ".join(texts))
    return list(dict.fromkeys(whole_number("take", text, 1, _LARGEST_ID) for text in texts))


def _info_json(take: TakeInfo) -> dict[str, object]:
    return {field: getattr(take, field) for field in TakeInfo.__slots__}


def _tell_takes(takes: Sequence[TakeInfo]) -> None:
    rows = [("take", "started", "length", "notes", "calls", "answers", "key", "tempo", "")]
    for take in takes:
        minutes, seconds = divmod(round(take.length_s), 60)
        counts = (str(take.notes), str(take.calls), str(take.answers))
        about = (pretty(take.key), f"{take.tempo:g}", take.origin and f"from {take.origin}")
        rows.append((str(take.id), take.started, f"{minutes}:{seconds:02d}", *counts, *about))
    say_columns(rows, right=(0, 2, 3, 4, 5, 7))
    say(plural(len(takes), "take"))
