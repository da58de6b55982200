"""The journal: every record of every run in one SQLite file, and the takes found in them."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from live.clock.metre import parse_metre
from live.clock.units import NS_PER_S
from live.notes.record import Record
from live.takes.cutting import Cutter, Draft
from live.takes.database import explained, open_for_reading, open_for_writing, transaction
from live.takes.take import Take, TakeInfo
from live.theory.errors import FieldError

__all__ = ["Journal", "Take", "TakeInfo", "list_takes", "read_take"]

_ADD_RECORD: Final = "INSERT INTO records VALUES (?, ?, ?, ?, ?, ?, ?)"
_ADD_TAKE: Final = """
    INSERT INTO takes (run, first_record, last_record, wall_ns, first_ns, end_ns,
                       notes, calls, answers, key, tempo_bpm, metre, held)
    VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"""
_CHANGE_TAKE: Final = """
    UPDATE takes SET last_record = ?, end_ns = ?, notes = ?, calls = ?, answers = ?,
                     tempo_bpm = ?, metre = ? WHERE id = ?"""
_LIST: Final = """
    SELECT takes.*, runs.origin FROM takes JOIN runs ON runs.id = takes.run ORDER BY takes.id"""
_READ: Final = """
    SELECT at_ns, kind, port, data, detail FROM records
    WHERE id BETWEEN ? AND ? AND run = ? ORDER BY id"""

_GROOVE_BEFORE: Final = """
    SELECT at_ns, kind, port, data, detail FROM records
    WHERE id < ? AND run = ? AND kind = 'groove' ORDER BY id DESC LIMIT 1"""


class Journal:
    """The writing side.

    Args:
        path: the file; made, with its folder, if there is none.
    Raises: JournalError (one sentence), from every method.
    Thread: the one that made it.
    """

    def __init__(self, path: Path | str) -> None:
        self.path = Path(path)
        self._database = open_for_writing(self.path)
        self._run = 0
        self._wall_offset_ns = 0
        self._cutter = Cutter()

    def begin_run(self, wall_ns: int, monotonic_ns: int, origin: str = "") -> int:
        """A new run: from now on records are stamped by another monotonic clock.

        Args:
            wall_ns: Unix time, nanoseconds.
            monotonic_ns: the same moment on the monotonic clock of the records.
            origin: file name if the records come from a file.
        Returns: the run's number.
        """
        with explained(self.path), transaction(self._database):
            added = self._database.execute(
                "INSERT INTO runs (wall_ns, monotonic_ns, origin) VALUES (?, ?, ?)",
                (wall_ns, monotonic_ns, origin),
            )
            run = int(added.lastrowid or 0)
        self._run, self._cutter = run, Cutter()
        self.anchor(wall_ns, monotonic_ns)
        return run

    def anchor(self, wall_ns: int, monotonic_ns: int) -> None:
        """Say the time again: a machine that slept has stopped its monotonic clock meanwhile."""
        self._wall_offset_ns = wall_ns - monotonic_ns

    def write(self, records: Sequence[Record]) -> None:
        """Keep records of the current run, all or none."""
        if not self._run:
            raise ValueError("write() needs a run: call begin_run() first")
        with explained(self.path), transaction(self._database):
            cutter = self._cutter.fork()
            rows = list(self._rows(records, cutter))
            self._database.executemany(_ADD_RECORD, rows)
            for draft in cutter.touched:
                self._save(draft)
        self._cutter = cutter

    def last_take(self, run: int) -> int:
        """The id of the latest take of a run, 0 if it has none."""
        with explained(self.path):
            found = self._database.execute("SELECT max(id) FROM takes WHERE run = ?", (run,))
            return int(found.fetchone()[0] or 0)

    def close(self) -> None:
        """Close the file. Safe to call twice."""
        with explained(self.path):
            self._database.close()

    def _rows(self, records: Sequence[Record], cutter: Cutter) -> Iterator[tuple[Any, ...]]:
        last_id = self._database.execute("SELECT max(id) FROM records").fetchone()[0] or 0
        for record_id, record in enumerate(records, last_id + 1):
            cutter.feed(record_id, record)
            yield (record_id, self._run, *record)

    def _save(self, draft: Draft) -> None:
        counts = (draft.notes, draft.calls, draft.answers)
        if draft.id is not None:
            changed = (draft.last_record, draft.end_ns, *counts, draft.tempo_bpm, draft.metre)
            self._database.execute(_CHANGE_TAKE, (*changed, draft.id))
            return
        span = (draft.first_record, draft.last_record)
        times = (draft.first_ns + self._wall_offset_ns, draft.first_ns, draft.end_ns)
        in_force = (draft.key, draft.tempo_bpm, draft.metre, draft.held)
        added = self._database.execute(_ADD_TAKE, (self._run, *span, *times, *counts, *in_force))
        draft.id = added.lastrowid


def list_takes(path: Path | str) -> list[TakeInfo]:
    """All takes, oldest first; an empty list if there is no journal yet.

    Raises: JournalError. Thread: any; another process may be writing.
    """
    with _reading(Path(path)) as database:
        return [_info(row) for row in database.execute(_LIST)] if database else []


def read_take(path: Path | str, take_id: int) -> Take:
    """One take with its records.

    Raises: FieldError if there is no such take; JournalError.
    Thread: any; another process may be writing.
    """
    with _reading(Path(path)) as database:
        rows = list(database.execute(_LIST)) if database else []
        row = next((row for row in rows if row["id"] == take_id), None)
        if row is None or database is None:
            allowed = f"1 to {rows[-1]['id']}" if rows else "none: nothing was recorded yet"
            raise FieldError("take", allowed, take_id)
        span = (row["first_record"], row["last_record"], row["run"])
        records = [Record(*fields) for fields in database.execute(_READ, span)]
        before = database.execute(_GROOVE_BEFORE, (row["first_record"], row["run"])).fetchall()
    groove = [Record(*fields)._replace(at_ns=row["first_ns"]) for fields in before]
    held = [
        Record(row["first_ns"], kind, port, bytes.fromhex(data))
        for kind, port, data in json.loads(row["held"])
    ]
    metre = parse_metre(row["metre"])
    return Take(_info(row), metre, row["first_ns"], row["end_ns"], (*groove, *held, *records))


@contextmanager
def _reading(path: Path) -> Iterator[sqlite3.Connection | None]:
    database = open_for_reading(path)
    if database is None:
        yield None
        return
    with explained(path), closing(database):
        database.row_factory = sqlite3.Row
        yield database


def _info(row: sqlite3.Row) -> TakeInfo:
    started = datetime.fromtimestamp(row["wall_ns"] / NS_PER_S, tz=UTC).astimezone()
    return TakeInfo(
        id=row["id"],
        started=started.strftime("%Y-%m-%d %H:%M:%S"),
        length_s=(row["end_ns"] - row["first_ns"]) / NS_PER_S,
        notes=row["notes"],
        calls=row["calls"],
        answers=row["answers"],
        key=row["key"],
        tempo=row["tempo_bpm"],
        origin=row["origin"],
    )
