"""The journal's thread: nothing lost, nobody kept waiting, trouble said in one sentence."""

import json
import sqlite3
import subprocess
import sys
import time
from contextlib import closing, contextmanager

import pytest

from live.notes.record import Record
from live.takes import database
from live.takes.database import JournalError
from live.takes.journal import Journal, list_takes, read_take
from live.takes.writer import JournalWriter
from tests.processes import wait_until
from tests.takes.streams import SECOND, fact, note, on, start

PROMISE_NS = SECOND // 10
SONG = [start(0), *note(1, 1), fact(2, "stop")]


@pytest.fixture(autouse=True)
def short_busy_wait(monkeypatch):
    monkeypatch.setattr(database, "_BUSY_S", 0.01)


@pytest.fixture
def path(tmp_path):
    return tmp_path / "journal.sqlite"


@contextmanager
def writing(path, **options):
    writer = JournalWriter(path, **options)
    try:
        yield writer
    finally:
        writer.close()


@contextmanager
def locked(path):
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        yield


def written(path):
    with closing(sqlite3.connect(path)) as one:
        rows = one.execute("SELECT at_ns, kind, port, data, detail FROM records ORDER BY id")
        return [Record(*row) for row in rows]


def test_what_is_put_is_written_in_order(path):
    records = [on(number, number % 128) for number in range(5000)]
    with writing(path) as writer:
        for index in range(0, 5000, 7):
            writer.put(records[index : index + 7])
        assert writer.flush()
        assert written(path) == records
        assert (writer.error, writer.notice, writer.lost) == ("", "", 0)


def test_it_writes_without_being_asked(path):
    with writing(path) as writer:
        writer.put([on(1)])
        wait_until(lambda: list_takes(path), "the take")


def test_the_anchor_is_that_of_the_clocks(path):
    with writing(path, clocks=lambda: (1_900_000_000 * SECOND, 5 * SECOND)) as writer:
        writer.put([on(7)])
        assert writer.flush()
    with closing(sqlite3.connect(path)) as one:
        runs = one.execute("SELECT wall_ns, monotonic_ns FROM runs").fetchall()
        (wall_ns,) = one.execute("SELECT wall_ns FROM takes").fetchone()
    assert runs == [(1_900_000_000 * SECOND, 5 * SECOND)]
    assert wall_ns == 1_900_000_002 * SECOND


def test_close_writes_the_rest_and_ends_the_thread(path):
    writer = JournalWriter(path)
    writer.put(SONG)
    assert writer.close()
    writer._thread.join(5)
    assert not writer._thread.is_alive()
    assert written(path) == SONG
    assert not path.with_name(path.name + "-wal").exists()  # SQLite has closed it properly


def test_while_locked_records_wait_and_nobody_else_does(path):
    records = [on(number) for number in range(500)]
    with writing(path) as writer:
        assert writer.flush()
        with locked(path):
            for record in records:
                writer.put([record])
            assert not writer.flush()
            assert "another program is writing" in writer.error
            writer.put(SONG)
        wait_until(lambda: not writer.error, "another try")  # it tries again by itself
        assert writer.flush()
        assert written(path) == [*records, *SONG]
        assert writer.lost == 0


def test_what_does_not_fit_in_memory_is_counted_and_noted(path):
    records = [on(number) for number in range(300)]
    with writing(path, max_waiting=100) as writer:
        assert writer.flush()
        with locked(path):
            writer.put(records[:40])
            assert not writer.flush()
            writer.put(records[40:120])
            writer.put(records[120:200])
            assert not writer.flush()
            assert writer.lost == 100
        assert writer.flush()
        writer.put(records[200:])
        assert writer.flush()
        found = written(path)
        assert writer.lost == 100
    (gap,) = [record for record in found if record.kind == "lost"]
    assert gap.at_ns == records[100].at_ns
    detail = json.loads(gap.detail)
    assert detail["count"] == 100
    assert "another program is writing" in detail["why"]
    assert found == [*records[:100], gap, *records[200:]]


def test_a_close_that_cannot_write_says_so(path):
    writer = JournalWriter(path)
    assert writer.flush()
    with locked(path):
        writer.put(SONG)
        assert not writer.close()
    assert writer.lost == len(SONG)
    assert writer.error
    assert writer.farewell == f"{writer.error} {len(SONG)} records of what was played are lost."


def test_a_full_disk_loses_nothing_once_there_is_room(path, monkeypatch):
    room = [12]

    class Cramped(Journal):
        def write(self, records):
            self._database.execute(f"PRAGMA max_page_count = {room[0]}")
            super().write(records)

    monkeypatch.setattr("live.takes.writer.Journal", Cramped)
    records = [on(number) for number in range(2000)]
    with writing(path) as writer:
        writer.put(records)
        assert not writer.flush()
        assert "the disk is full" in writer.error
        room[0] = 10_000
        assert writer.flush()
        assert written(path) == records


def test_trouble_shows_before_the_first_note(path):
    path.mkdir()
    with writing(path) as writer:
        wait_until(lambda: writer.error, "the error")
        assert "cannot be opened" in writer.error
        path.rmdir()
        writer.put(SONG)
        assert writer.flush()
        assert writer.error == ""
    assert written(path) == SONG


def test_a_damaged_journal_is_kept_aside_and_a_new_one_begun(path):
    path.write_bytes(b"not a database at all " * 300)
    with writing(path) as writer:
        writer.put(SONG)
        assert writer.flush()
        assert writer.error == ""
        assert "kept as journal-damaged-1.sqlite" in writer.notice
    assert path.with_name("journal-damaged-1.sqlite").read_bytes().startswith(b"not a database")
    assert written(path) == SONG


def test_a_journal_found_broken_while_writing_is_kept_aside_too(path, tmp_path):
    whole = tmp_path / "whole.sqlite"
    with writing(whole) as writer:
        writer.put([on(number) for number in range(5000)])
    content = whole.read_bytes()
    path.write_bytes(content[: len(content) // 2] + b"\xff" * (len(content) // 2))
    with writing(path) as writer:
        writer.put(SONG)
        assert writer.flush()
        assert "kept as" in writer.notice
    assert written(path) == SONG
    assert path.with_name("journal-damaged-1.sqlite").stat().st_size >= len(content) - 1


def test_a_newer_journal_is_never_touched(path):
    with closing(Journal(path)):
        pass
    with closing(sqlite3.connect(path)) as one:
        one.execute("PRAGMA user_version = 99")
    before = path.read_bytes()
    writer = JournalWriter(path)
    writer.put(SONG)
    assert not writer.flush()
    assert "version 99" in writer.error
    assert not writer.close()
    assert writer.lost == len(SONG)
    assert path.read_bytes() == before
    assert [one.name for one in path.parent.iterdir()] == [path.name]


@pytest.mark.parametrize(
    "unfit",
    [Record(2**63, "in"), Record(0, "in", "\ud800"), Record(0, "key", detail={})],
    ids=["time too large", "no text", "no JSON text"],
)
def test_a_record_that_cannot_be_kept_does_not_stop_the_others(path, unfit):
    with writing(path) as writer:
        writer.put([*SONG[:2], unfit, *SONG[2:]])
        assert writer.flush()
        assert (writer.lost, writer.error) == (1, "")
    assert written(path) == SONG


def test_a_damaged_journal_that_cannot_be_put_aside_is_tried_again(path, monkeypatch):
    refusals = iter([JournalError("The journal cannot be used: it may only be read.")])

    def stubborn(damaged):
        for refusal in refusals:
            raise refusal
        return database.set_aside(damaged)

    monkeypatch.setattr("live.takes.writer.set_aside", stubborn)
    path.write_bytes(b"not a database at all " * 300)
    with writing(path) as writer:
        writer.put(SONG)
        wait_until(lambda: writer.notice, "the notice")
        assert writer.flush()
    assert written(path) == SONG


def test_a_fault_of_our_own_is_told_and_the_records_wait(path, monkeypatch):
    faults = iter([ValueError("a fault")])

    class Faulty(Journal):
        def write(self, records):
            for fault in faults:
                raise fault
            super().write(records)

    monkeypatch.setattr("live.takes.writer.Journal", Faulty)
    with writing(path) as writer:
        writer.put(SONG)
        assert not writer.flush()
        assert "a fault" in writer.error
        assert writer.flush()
    assert written(path) == SONG


def test_a_killed_process_loses_at_most_the_last_tenth_of_a_second(path):
    command = [sys.executable, "-m", "tests.takes.doomed", str(path)]
    doomed = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    lines = [doomed.stdout.readline() for _ in range(700)]
    doomed.kill()
    killed_ns = time.monotonic_ns()
    lines += doomed.stdout.read().splitlines()
    doomed.stdout.close()
    assert doomed.wait(10) == -9
    puts = [tuple(map(int, line.split())) for line in lines if line.count(" ") == 2]
    late_ns = puts[-1][2]  # a thread of that process has waited so long for its turn
    promised = [number for number, at_ns, _ in puts if at_ns < killed_ns - PROMISE_NS - late_ns]
    assert len(promised) > 100
    found = written(path)
    assert found == [on(number) for number in range(len(found))]  # no hole
    assert len(found) >= len(promised)
    # The take is whole as far as it got, and the next run goes on behind it.
    assert read_take(path, 1).info.notes == len(found)
    with writing(path) as writer:
        writer.put(SONG)
        assert writer.flush()
    assert [info.notes for info in list_takes(path)] == [len(found), 1]
