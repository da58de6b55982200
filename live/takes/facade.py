"""What a face needs of takes: list them, write them as files, take files in."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Literal

from live.takes.export import DRUMS, ExportReport, export_take
from live.takes.importing import add_song, import_song, unplayable_tempos
from live.takes.journal import list_takes, read_take
from live.takes.take import TakeInfo
from live.theory.errors import FieldError

__all__ = ["DRUMS", "add_song", "export", "import_song", "list_takes", "unplayable_tempos"]


def export(
    journal_path: Path | str,
    ids: Sequence[int] | Literal["last"],
    out_dir: Path | str,
    *,
    drums: bool = False,
) -> list[ExportReport]:
    """Write takes as Standard MIDI Files; never over a file that is there.

    Args:
        journal_path: the journal.
        ids: the takes, or `last` for the latest one in which something was played; a file
            that was taken in only where nothing was.
        out_dir: folder for the files, made if there is none.
        drums: with the groove as a track; one that never had the transport running has none.
    Returns: what was written, in the order of `ids`.
    Raises: FieldError (no such take, or a place that cannot be written); JournalError.
    """
    wanted = [_last_id(list_takes(journal_path))] if ids == "last" else ids
    takes = [read_take(journal_path, take_id) for take_id in wanted]
    return [export_take(take, _free_name(Path(out_dir), take.info), drums=drums) for take in takes]


def _last_id(takes: list[TakeInfo]) -> int:
    """The latest take that was played; where none was, the file that was taken in last."""
    heard = [info for info in takes if info.notes or info.answers]
    if not heard:
        raise FieldError("take", "one that was recorded", "last: nothing was recorded yet")
    return ([info for info in heard if not info.origin] or heard)[-1].id


def _free_name(folder: Path, info: TakeInfo) -> Path:
    day, clock = info.started.split(" ")
    stem = f"take-{info.id}-{day}-{clock[:5].replace(':', '')}"
    path, count = folder / f"{stem}.mid", 1
    while path.exists():
        count += 1
        path = folder / f"{stem}-{count}.mid"
    return path
