"""How fast the journal writes, against bare SQLite on the same records in the same run.

Run: python -m tests.bench.bench_journal
"""

from __future__ import annotations

import sqlite3
import statistics
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from live.notes.record import Record
from live.takes.journal import Journal, list_takes, read_take
from live.takes.writer import JournalWriter
from tests.takes.streams import fact, off, on, start

RECORDS = 100_000
BATCH = 100  # records a transaction: far more than playing makes in 50 ms
ROUNDS = 5


def song() -> list[Record]:
    """A start, then notes in and out, 100 of them a second."""
    records = [start(0)]
    number = 0
    while len(records) < RECORDS - 1:
        at_s, pitch = number / 100, 36 + number % 60
        records += [on(at_s, pitch), on(at_s, pitch, port="through")]
        records += [off(at_s + 0.005, pitch), off(at_s + 0.005, pitch, port="through")]
        number += 1
    return [*records[: RECORDS - 1], fact(number / 100 + 1, "stop")]


def bare(path: Path, records: list[Record]) -> None:
    """The floor: the same rows and transactions, and no takes."""
    with closing(sqlite3.connect(path, isolation_level=None)) as database:
        database.execute("PRAGMA journal_mode = WAL")
        database.execute("PRAGMA synchronous = NORMAL")
        database.execute(
            "CREATE TABLE records (id INTEGER PRIMARY KEY, run, at_ns, kind, port, data, detail)"
        )
        for index in range(0, len(records), BATCH):
            rows = [(1, *record) for record in records[index : index + BATCH]]
            database.execute("BEGIN IMMEDIATE")
            database.executemany(
                "INSERT INTO records (run, at_ns, kind, port, data, detail)"
                " VALUES (?, ?, ?, ?, ?, ?)",
                rows,
            )
            database.execute("COMMIT")


def journal(path: Path, records: list[Record]) -> None:
    """The journal itself, on the caller's thread."""
    with closing(Journal(path)) as one:
        one.begin_run(0, 0)
        for index in range(0, len(records), BATCH):
            one.write(records[index : index + BATCH])


def writer(path: Path, records: list[Record]) -> None:
    """Through the journal's thread, record by record, until all are on the disk."""
    one = JournalWriter(path)
    for record in records:
        one.put([record])
    if not one.close(timeout_s=60.0):
        raise RuntimeError(one.error)


def seconds(work: Callable[[], object]) -> float:
    """How long `work` takes."""
    began_s = time.perf_counter()
    work()
    return time.perf_counter() - began_s


def main() -> None:
    """Print medians over the rounds, and their ratios to bare SQLite."""
    records = song()
    times_s: dict[str, list[float]] = {}
    for _ in range(ROUNDS):
        with tempfile.TemporaryDirectory() as folder:
            for name, write in (("bare SQLite", bare), ("journal", journal), ("writer", writer)):
                path = Path(folder) / f"{name}.sqlite"
                took_s = seconds(lambda path=path, write=write: write(path, records))
                times_s.setdefault(name, []).append(took_s)
            path = Path(folder) / "writer.sqlite"
            times_s.setdefault("list", []).append(seconds(lambda path=path: list_takes(path)))
            times_s.setdefault("read", []).append(seconds(lambda path=path: read_take(path, 1)))
    medians_s = {name: statistics.median(times) for name, times in times_s.items()}
    print(f"{RECORDS} records, median of {ROUNDS} rounds")
    for name, median_s in medians_s.items():
        ratio = median_s / medians_s["bare SQLite"]
        print(f"  {name:12} {median_s * 1e3:8.1f} ms  {ratio:6.3f} x bare SQLite")


if __name__ == "__main__":
    main()
