"""What was written is what is read: streams written by hand, and the database read by sqlite3."""

import sqlite3
from contextlib import closing
from datetime import datetime

import pytest

from live.clock.metre import Metre
from live.notes.record import Record
from live.takes.database import JournalDamagedError, JournalError
from live.takes.journal import Journal, list_takes, read_take
from live.theory.errors import FieldError
from tests.takes.streams import SECOND, fact, note, off, on, start

WALL_NS = 1_936_818_273 * SECOND  # some evening in 2031


@pytest.fixture
def path(tmp_path):
    return tmp_path / "journal.sqlite"


@pytest.fixture
def journal(path):
    with closing(Journal(path)) as one:
        one.begin_run(WALL_NS, 100 * SECOND)
        yield one


SONG = [
    fact(100, "key", key="D minor"),
    start(101, tempo=168.0, metre="7/8"),
    *note(101, 1),
    fact(102, "call", number=1, bar=0),
    fact(105, "answer", number=1, bar=2, choice=1, reasons=["…"]),
    Record(106 * SECOND, "in", "keys in", bytes(range(256))),
    fact(108.5, "stop"),
]


def test_a_take_comes_back_as_it_was(path, journal):
    journal.write(SONG)
    take = read_take(path, 1)
    assert take.records == tuple(SONG[1:])
    assert (take.metre, take.first_ns, take.end_ns) == (Metre(7, 8), 101 * SECOND, 108.5 * SECOND)
    (info,) = list_takes(path)
    assert take.info == info
    assert (info.id, info.length_s, info.notes, info.calls, info.answers) == (1, 7.5, 1, 1, 1)
    assert (info.key, info.tempo, info.origin) == ("D minor", 168.0, "")


def test_the_wall_clock_is_local(path, journal):
    journal.write(SONG)
    started = datetime.strptime(list_takes(path)[0].started, "%Y-%m-%d %H:%M:%S")  # noqa: DTZ007
    assert started.timestamp() == WALL_NS / SECOND + 1


def test_after_the_machine_slept_the_hour_is_right_again(path, journal):
    journal.anchor(WALL_NS + 3600 * SECOND, 100 * SECOND)  # monotonic time stood still for an hour
    journal.write(SONG)
    started = datetime.strptime(list_takes(path)[0].started, "%Y-%m-%d %H:%M:%S")  # noqa: DTZ007
    assert started.timestamp() == WALL_NS / SECOND + 3601


def test_a_take_grows_from_write_to_write(path, journal):
    for record in SONG:
        journal.write([record])
    journal.write([])
    (info,) = list_takes(path)
    assert (info.length_s, info.notes) == (7.5, 1)
    assert read_take(path, 1).records == tuple(SONG[1:])


def test_ids_are_counted_over_all_runs_and_stay(path, journal):
    journal.write([*SONG, *note(120, 1)])
    with closing(Journal(path)) as other:  # such as an import while the daemon runs
        run = other.begin_run(WALL_NS, 0, origin="song.mid")
        other.write([start(0), *note(1, 1, 72), fact(2, "stop")])
        assert other.last_take(run) == 3
    journal.write([off(121, 61), start(130), *note(131, 1), fact(140, "stop")])
    assert [info.id for info in list_takes(path)] == [1, 2, 3, 4]
    assert [info.origin for info in list_takes(path)] == ["", "", "song.mid", ""]
    assert read_take(path, 2).records == (*note(120, 1), off(121, 61))
    assert read_take(path, 3).records[0] == start(0)
    assert read_take(path, 4).info.notes == 1


def test_a_pad_held_over_the_start_comes_first(path, journal):
    pad = [on(100, 50), on(100, 50, port="through")]
    journal.write([*pad, start(105), off(107, 50), fact(109, "stop")])
    held = tuple(record._replace(at_ns=105 * SECOND) for record in pad)
    assert read_take(path, 2).records[:3] == (*held, start(105))


@pytest.mark.parametrize("take_id", [0, -1, 2, 10**9])
def test_no_such_take(path, journal, take_id):
    with pytest.raises(FieldError, match="nothing was recorded"):
        read_take(path, take_id)
    journal.write(SONG)
    with pytest.raises(FieldError, match="allowed: 1 to 1"):
        read_take(path, take_id)


def test_a_write_that_fails_leaves_nothing_and_can_be_repeated(path, journal):
    journal.write(SONG[:3])
    with pytest.raises(OverflowError):
        journal.write([SONG[3], Record(2**63, "in")])
    assert read_take(path, 1).records == tuple(SONG[1:3])
    journal.write(SONG[3:])
    assert read_take(path, 1).records == tuple(SONG[1:])
    assert list_takes(path)[0].calls == 1


def test_a_full_disk_is_said_in_one_sentence(path, journal):
    # max_page_count makes SQLite itself report SQLITE_FULL.
    journal._database.execute("PRAGMA max_page_count = 10")
    with pytest.raises(JournalError, match="cannot be used: the disk is full"):
        journal.write(SONG * 1000)
    journal._database.execute("PRAGMA max_page_count = 1000")
    journal.write(SONG)
    assert len(list_takes(path)) == 1


def test_a_read_only_journal_is_said_in_one_sentence(journal):
    journal._database.execute("PRAGMA query_only = 1")
    with pytest.raises(JournalError, match="it may only be read"):
        journal.write(SONG)


def test_a_locked_journal_is_said_in_one_sentence(path, journal):
    journal._database.execute("PRAGMA busy_timeout = 1")
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(JournalError, match="another program is writing"):
            journal.write(SONG)
        assert list_takes(path) == []  # reading goes on
    journal.write(SONG)


def test_writing_needs_a_run(path):
    with closing(Journal(path)) as journal, pytest.raises(ValueError, match="begin_run"):
        journal.write(SONG)


def add_run(journal):
    journal.begin_run(WALL_NS, 0)
    journal.write(SONG * 500)


@pytest.mark.parametrize("rest", [b"", b"\xff"], ids=["cut short", "overwritten"])
def test_half_a_journal_is_called_damaged(path, tmp_path, rest):
    with closing(Journal(path)) as journal:
        add_run(journal)
    whole = path.read_bytes()
    half = tmp_path / "half.sqlite"
    half.write_bytes(whole[: len(whole) // 2] + rest * (len(whole) // 2))
    with pytest.raises(JournalDamagedError), closing(Journal(half)) as journal:
        add_run(journal)
    with pytest.raises(JournalDamagedError):
        [read_take(half, info.id) for info in list_takes(half)]
    assert half.read_bytes()[:100] == whole[:100]
