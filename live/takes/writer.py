"""The journal's own thread: whoever records hands over and goes on at once."""

from __future__ import annotations

import contextlib
import json
import sqlite3
import threading
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Final

from live.notes.record import Record
from live.takes.database import JournalDamagedError, JournalError, set_aside
from live.takes.journal import Journal

GATHER_S: Final = 0.05
"""How long records gather before they are written; the rest of the promised 0.1 s is for disks."""

MAX_WAITING: Final = 200_000
"""Records kept in memory while the journal cannot be written (some hours of playing)."""

_FIRST_RETRY_S: Final = 0.1
_LAST_RETRY_S: Final = 5.0
_INT64_MAX: Final = 2**63 - 1
_UNFIT: Final = (sqlite3.ProgrammingError, sqlite3.InterfaceError)

Clocks = Callable[[], tuple[int, int]]
"""Gives Unix time and monotonic time of the same moment, nanoseconds."""


def read_clocks() -> tuple[int, int]:
    """The real clocks."""
    return time.time_ns(), time.monotonic_ns()


class _Request:
    """Asks the thread to write at once; `done` is set after the attempt."""

    def __init__(self, *, last: bool) -> None:
        self.last = last
        self.done = threading.Event()


class JournalWriter:
    """Writes records from a thread of its own, in one transaction at most 100 ms apart.

    Nothing raises: while the journal cannot be written, `error` says why in one sentence, the
    records wait in memory and writing is tried again, less and less often. Only when
    `max_waiting` of them wait are further ones lost; `lost` counts them, and the journal gets
    a `lost` record in their place. A damaged file is put aside and a new one begun; `notice`
    says so.

    Args:
        path: the journal's file.
        clocks: Unix and monotonic time, for the run's anchor.
        max_waiting: records kept in memory while the journal cannot be written.
    Thread: put, flush and the attributes from any; close from the owner's, once.
    """

    def __init__(
        self,
        path: Path | str,
        *,
        clocks: Clocks = read_clocks,
        max_waiting: int = MAX_WAITING,
    ) -> None:
        self.path = Path(path)
        self.error = ""
        self.notice = ""
        self.lost = 0
        self._clocks = clocks
        self._max_waiting = max_waiting
        self._inbox: SimpleQueue[Sequence[Record] | _Request] = SimpleQueue()
        self._waiting: list[Record] = []
        self._request: _Request | None = None
        self._gap: tuple[int, int] | None = None  # since when, how many records are lost
        self._retry_s = 0.0
        self._journal: Journal | None = None
        self._thread = threading.Thread(target=self._run, name="journal", daemon=True)
        self._thread.start()

    @property
    def farewell(self) -> str:
        """What is to be said when the last records could not be written."""
        why = self.error or f"The journal {self.path} was not written in time."
        return f"{why} {self.lost} records of what was played are lost."

    def put(self, records: Sequence[Record]) -> None:
        """Hand over records, in order. Never blocks, never drops."""
        self._inbox.put(records)

    def flush(self, timeout_s: float = 5.0) -> bool:
        """Write now what was put before; False if that failed (see `error`) or took too long."""
        return self._ask(last=False, timeout_s=timeout_s) and not self.error

    def close(self, timeout_s: float = 5.0) -> bool:
        """Write what was put before and end; False if something could not be written."""
        ended = self._ask(last=True, timeout_s=timeout_s)
        return ended and not self.error

    def _ask(self, *, last: bool, timeout_s: float) -> bool:
        request = _Request(last=last)
        self._inbox.put(request)
        return request.done.wait(timeout_s)

    def _run(self) -> None:
        self._attempt()  # opens the file, so that trouble shows before the first note
        ended = False
        while not ended:
            self._gather()
            self._attempt()
            request, self._request = self._request, None
            ended = request is not None and request.last
            if ended:
                self._end()
            if request:
                request.done.set()

    def _gather(self) -> None:
        """Wait for records, then a little for more; a request ends the wait."""
        deadline_s = time.monotonic() + self._retry_s if self._retry_s else None
        while True:
            wait_s = None if deadline_s is None else deadline_s - time.monotonic()
            if wait_s is not None and wait_s <= 0:
                return
            try:
                item = self._inbox.get(timeout=wait_s)
            except Empty:
                return
            if isinstance(item, _Request):
                self._request = item
                return
            self._keep(item)
            if deadline_s is None:
                deadline_s = time.monotonic() + GATHER_S

    def _keep(self, records: Sequence[Record]) -> None:
        room = len(records)
        if self._retry_s:
            room = max(0, self._max_waiting - len(self._waiting))
        self._waiting.extend(records[:room])
        missed = records[room:]
        if missed:
            self.lost += len(missed)
            since_ns, count = self._gap or (missed[0].at_ns, 0)
            self._gap = (since_ns, count + len(missed))

    def _attempt(self) -> None:
        try:
            self._write()
        except JournalDamagedError as error:
            self._replace(error)
        except JournalError as error:
            self._fail(str(error))
        except (*_UNFIT, TypeError, ValueError, OverflowError) as error:
            self._weed(error)
        else:
            self._waiting, self._gap, self._retry_s, self.error = [], None, 0.0, ""

    def _write(self) -> None:
        batch = list(self._waiting)
        if self._gap:
            since_ns, count = self._gap
            detail = json.dumps({"count": count, "why": self.error})
            batch.append(Record(since_ns, "lost", detail=detail))
        if self._journal is None:
            journal = Journal(self.path)
            journal.begin_run(*self._clocks())
            self._journal = journal
        if batch:
            self._journal.anchor(*self._clocks())
            self._journal.write(batch)

    def _fail(self, why: str) -> None:
        self.error = why
        self._retry_s = min(_LAST_RETRY_S, self._retry_s * 2 or _FIRST_RETRY_S)

    def _replace(self, error: JournalDamagedError) -> None:
        """Put the damaged file aside; the next attempt begins a new one."""
        self._shut()
        try:
            aside = set_aside(self.path)
        except JournalError as also:
            self._fail(str(also))
            return
        self.notice = f"{error} It was kept as {aside.name} and a new journal was begun."
        self._attempt()

    def _weed(self, error: Exception) -> None:
        """One record that no journal can hold must not keep the others from being written."""
        fit = [record for record in self._waiting if _fits(record)]
        if len(fit) == len(self._waiting):
            self._fail(f"The journal {self.path} cannot be used: {error}.")
            return
        self.lost += len(self._waiting) - len(fit)
        self._waiting = fit
        self._attempt()

    def _end(self) -> None:
        if self.error:
            self.lost += len(self._waiting)
        self._shut()

    def _shut(self) -> None:
        journal, self._journal = self._journal, None
        if journal:
            with contextlib.suppress(JournalError):
                journal.close()


def _fits(record: Record) -> bool:
    try:
        for text in (record.kind, record.port, record.detail):
            text.encode()
        return abs(record.at_ns) <= _INT64_MAX and isinstance(record.data, bytes)
    except (TypeError, ValueError, AttributeError):
        return False
