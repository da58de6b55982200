"""The journal's file: open it, know it by its mark and version, put a damaged one aside."""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from live.ports.atomic import damaged_name

VERSION: Final = 1
"""Raised whenever the tables change; kept in the file's user_version."""

_MARK: Final = 0x556E5367  # "UnSg", our own mark in the file's application_id
_SIDE_FILES: Final = ("", "-wal", "-shm")  # SQLite's own names; an uncopied -wal loses commits
_BUSY_S: Final = 1.0

_TABLES: Final = (
    """CREATE TABLE runs (
        id INTEGER PRIMARY KEY,
        wall_ns INTEGER NOT NULL,       -- Unix time of the anchor
        monotonic_ns INTEGER NOT NULL,  -- the same moment on the clock of the run's records
        origin TEXT NOT NULL            -- file name of an imported run, '' for a played one
    )""",
    """CREATE TABLE records (
        id INTEGER PRIMARY KEY,
        run INTEGER NOT NULL REFERENCES runs,
        at_ns INTEGER NOT NULL,
        kind TEXT NOT NULL,
        port TEXT NOT NULL,
        data BLOB NOT NULL,
        detail TEXT NOT NULL
    )""",
    # Derived from the records, in the same transaction, so that listing need not read them.
    """CREATE TABLE takes (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        run INTEGER NOT NULL REFERENCES runs,
        first_record INTEGER NOT NULL,
        last_record INTEGER NOT NULL,
        wall_ns INTEGER NOT NULL,       -- Unix time of first_ns
        first_ns INTEGER NOT NULL,
        end_ns INTEGER NOT NULL,
        notes INTEGER NOT NULL,
        calls INTEGER NOT NULL,
        answers INTEGER NOT NULL,
        key TEXT NOT NULL,
        tempo_bpm REAL NOT NULL,
        metre TEXT NOT NULL,
        held TEXT NOT NULL
    )""",
    f"PRAGMA application_id = {_MARK}",
    f"PRAGMA user_version = {VERSION}",
)

_REASONS: Final = {
    sqlite3.SQLITE_BUSY: "another program is writing to it",
    sqlite3.SQLITE_LOCKED: "another program is writing to it",
    sqlite3.SQLITE_FULL: "the disk is full",
    sqlite3.SQLITE_READONLY: "it may only be read",
    sqlite3.SQLITE_CANTOPEN: "its place cannot be opened",
    sqlite3.SQLITE_IOERR: "the disk reports an error",
}
_DAMAGED: Final = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)


class JournalError(RuntimeError):
    """The journal cannot be used; the text is one sentence for people."""


class JournalDamagedError(JournalError):
    """The file is not a database, or a broken one."""


@contextlib.contextmanager
def explained(path: Path) -> Iterator[None]:
    """Turn what SQLite and the system report into one sentence that names the file.

    Raises: JournalError, JournalDamagedError.
    """
    try:
        yield
    except (sqlite3.ProgrammingError, sqlite3.InterfaceError):
        raise  # our own misuse, not the file's state
    except sqlite3.Error as error:
        # Extended codes keep the plain one in their low byte (SQLite, Result and Error Codes).
        code = getattr(error, "sqlite_errorcode", 0) & 0xFF
        if code in _DAMAGED:
            text = f"The journal {path} is damaged or no journal at all."
            raise JournalDamagedError(text) from error
        reason = _REASONS.get(code, str(error))
        raise JournalError(f"The journal {path} cannot be used: {reason}.") from error
    except OSError as error:
        reason = error.strerror or str(error)
        raise JournalError(f"The journal {path} cannot be used: {reason}.") from error


def open_for_writing(path: Path) -> sqlite3.Connection:
    """Open the journal, or begin a new one where there is none.

    A file with another program's mark, or of a newer version, is left exactly as it is.
    Raises: JournalError, JournalDamagedError. Thread: the one that uses the connection.
    """
    with explained(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        database = sqlite3.connect(path, timeout=_BUSY_S, isolation_level=None)
        try:
            _prepare(database, path)
        except BaseException:
            database.close()
            raise
        return database


def open_for_reading(path: Path) -> sqlite3.Connection | None:
    """Open the journal without being able to change it; None if there is none yet.

    Raises: JournalError, JournalDamagedError.
    """
    with explained(path):
        if not path.exists():
            return None
        address = f"{path.absolute().as_uri()}?mode=ro"
        database = sqlite3.connect(address, timeout=_BUSY_S, isolation_level=None, uri=True)
        try:
            empty = _is_empty(database)
            if not empty:
                _refuse_others(database, path)
        except BaseException:
            database.close()
            raise
        if empty:
            database.close()
            return None
        return database


def set_aside(path: Path) -> Path:
    """Give a damaged journal another name beside its old one, and return that name.

    Raises: JournalError.
    """
    with explained(path):
        aside = damaged_name(path)
        for end in _SIDE_FILES:
            side_file = path.with_name(path.name + end)
            if side_file.exists():
                side_file.rename(aside.with_name(aside.name + end))
        return aside


@contextlib.contextmanager
def transaction(database: sqlite3.Connection) -> Iterator[None]:
    """All or nothing; other writers wait."""
    database.execute("BEGIN IMMEDIATE")
    try:
        yield
        database.execute("COMMIT")
    except BaseException:
        if database.in_transaction:  # a full disk has rolled back by itself
            database.execute("ROLLBACK")
        raise


def _prepare(database: sqlite3.Connection, path: Path) -> None:
    if not _is_empty(database):
        _refuse_others(database, path)
    database.execute("PRAGMA journal_mode = WAL")
    # In WAL mode NORMAL survives a killed process; a power cut may take the last commits.
    database.execute("PRAGMA synchronous = NORMAL")
    with transaction(database):
        if _is_empty(database):  # asked again: another program may have been faster
            for statement in _TABLES:
                database.execute(statement)


def _is_empty(database: sqlite3.Connection) -> bool:
    tables = _number(database, "SELECT count(*) FROM sqlite_master")
    return tables == 0 and _number(database, "PRAGMA user_version") == 0


def _refuse_others(database: sqlite3.Connection, path: Path) -> None:
    if _number(database, "PRAGMA application_id") != _MARK:
        text = f"The file {path} belongs to another program; it was left as it is."
        raise JournalError(text)
    version = _number(database, "PRAGMA user_version")
    if version > VERSION:
        text = (
            f"The journal {path} is of version {version} and this program knows up to {VERSION};"
            " it was left as it is: use the newer program, or another file."
        )
        raise JournalError(text)


def _number(database: sqlite3.Connection, statement: str) -> int:
    return int(database.execute(statement).fetchone()[0])
