"""The journal's file against files it must not harm. SQLite itself makes the foreign ones."""

import sqlite3

import pytest

from live.takes.database import (
    VERSION,
    JournalDamagedError,
    JournalError,
    open_for_reading,
    open_for_writing,
    set_aside,
)
from live.takes.journal import list_takes


@pytest.fixture
def path(tmp_path):
    return tmp_path / "data" / "journal.sqlite"


def foreign(path, *statements):
    path.parent.mkdir(exist_ok=True)
    database = sqlite3.connect(path)
    for statement in statements:
        database.execute(statement)
    database.commit()
    database.close()
    return path.read_bytes()


def one_sentence(error):
    text = str(error.value)
    assert "\n" not in text
    assert text.endswith(".")
    return text


def test_a_new_journal_is_marked_and_in_wal_mode(path):
    database = open_for_writing(path)
    assert database.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    assert database.execute("PRAGMA synchronous").fetchone() == (1,)  # 1 = NORMAL (SQLite docs)
    assert database.execute("PRAGMA user_version").fetchone() == (VERSION,)
    database.close()
    again = open_for_writing(path)
    assert again.execute("SELECT count(*) FROM records").fetchone() == (0,)
    again.close()


def test_no_journal_yet_is_not_an_error(path):
    assert open_for_reading(path) is None
    assert list_takes(path) == []
    assert not path.parent.exists()
    path.parent.mkdir()
    path.touch()
    assert list_takes(path) == []


def test_a_newer_version_is_refused_and_left_alone(path):
    open_for_writing(path).close()
    database = sqlite3.connect(path)
    database.execute(f"PRAGMA user_version = {VERSION + 1}")
    database.close()
    before = path.read_bytes()
    for opener in (open_for_writing, open_for_reading):
        with pytest.raises(JournalError) as error:
            opener(path)
        text = one_sentence(error)
        assert f"version {VERSION + 1}" in text
        assert str(path) in text
    assert path.read_bytes() == before


def test_another_programs_database_is_left_alone(path):
    before = foreign(path, "CREATE TABLE bookmarks (url)", "INSERT INTO bookmarks VALUES ('x')")
    for opener in (open_for_writing, open_for_reading):
        with pytest.raises(JournalError) as error:
            opener(path)
        assert "another program" in one_sentence(error)
    assert path.read_bytes() == before


@pytest.mark.parametrize("content", [b"no database " * 400, b"SQLite format 3\0" + b"\xff" * 5000])
def test_what_is_no_database_is_called_damaged(path, content):
    path.parent.mkdir()
    path.write_bytes(content)
    for opener in (open_for_writing, open_for_reading):
        with pytest.raises(JournalDamagedError) as error:
            opener(path)
        one_sentence(error)
    assert path.read_bytes() == content


def test_a_folder_in_its_place(path):
    path.mkdir(parents=True)
    with pytest.raises(JournalError, match="cannot be opened"):
        open_for_writing(path)


def test_a_file_where_the_folder_should_be(tmp_path):
    (tmp_path / "data").write_text("a file")
    with pytest.raises(JournalError) as error:
        open_for_writing(tmp_path / "data" / "journal.sqlite")
    one_sentence(error)


def test_setting_aside_takes_the_side_files_along_and_counts(path):
    path.parent.mkdir()
    for count in (1, 2):
        for end in ("", "-wal", "-shm"):
            path.with_name(path.name + end).write_text(f"{count}{end}")
        aside = set_aside(path)
        assert aside.name == f"journal-damaged-{count}.sqlite"
        assert aside.read_text() == str(count)
        assert aside.with_name(aside.name + "-wal").read_text() == f"{count}-wal"
        assert not path.exists()
