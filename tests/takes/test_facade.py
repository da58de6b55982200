"""What a face asks for: file names, the last take, nothing written over."""

import re

import pytest

from live.takes.facade import export, import_song, list_takes
from live.theory.errors import FieldError
from tests.takes import smf
from tests.takes.streams import fact, journalled, note, start


@pytest.fixture
def journal(tmp_path):
    path = tmp_path / "journal.sqlite"
    empty = [start(40), fact(42, "stop")]
    journalled(path, [*note(1, 1), start(20), *note(20, 1), *note(22, 1), fact(30, "stop"), *empty])
    assert len(list_takes(path)) == 3
    return path


def test_the_last_take_is_the_last_with_something_in_it(journal, tmp_path):
    (report,) = export(journal, "last", tmp_path / "out")
    assert len(smf.read(report.path).notes["played"]) == 2


def test_a_file_that_was_taken_in_since_is_not_the_last_take(journal, tmp_path):
    (report,) = export(journal, "last", tmp_path)
    import_song(journal, report.path)
    (again,) = export(journal, "last", tmp_path)
    assert again.path.name.startswith("take-2-")
    imported = tmp_path / "imported.sqlite"
    import_song(imported, report.path)
    assert export(imported, "last", tmp_path)[0].path.name.startswith("take-1-")


def test_names_tell_the_take_and_when_it_began(journal, tmp_path):
    path = export(journal, [2], tmp_path)[0].path
    started = list_takes(journal)[1].started
    assert re.fullmatch(r"take-2-\d{4}-\d\d-\d\d-\d{4}\.mid", path.name)
    assert path.stem.removeprefix("take-2-") == f"{started[:10]}-{started[11:13]}{started[14:16]}"


def test_exports_are_counted_and_never_written_over(journal, tmp_path):
    paths = [export(journal, [1], tmp_path)[0].path for _ in range(3)]
    stem = paths[0].stem
    assert [path.stem for path in paths] == [stem, f"{stem}-2", f"{stem}-3"]
    assert len({path.read_bytes() for path in paths}) == 1


def test_several_takes_in_the_order_asked_for(journal, tmp_path):
    assert [report.path.name[:7] for report in export(journal, [3, 1], tmp_path)] == [
        "take-3-",
        "take-1-",
    ]


def test_no_such_take_writes_nothing(journal, tmp_path):
    with pytest.raises(FieldError, match="allowed: 1 to 3"):
        export(journal, [1, 9], tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_no_takes_yet(tmp_path):
    with pytest.raises(FieldError, match="nothing was recorded yet"):
        export(tmp_path / "journal.sqlite", "last", tmp_path)


def test_an_export_can_be_taken_in_again(journal, tmp_path):
    path = export(journal, [2], tmp_path)[0].path
    again = import_song(journal, path)
    (copy,) = export(journal, [again], tmp_path)
    assert smf.read(copy.path).notes == smf.read(path).notes
    assert list_takes(journal)[-1].origin == path.name
