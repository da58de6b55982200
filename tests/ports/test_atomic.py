"""Files that are whole or not there."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from live.ports.atomic import write_whole
from live.theory.errors import FieldError


def test_a_file_is_written_and_replaced(tmp_path):
    path = tmp_path / "x"
    write_whole(path, b"one")
    write_whole(str(path), b"two")
    assert path.read_bytes() == b"two"
    assert list(tmp_path.iterdir()) == [path]


def test_it_gets_the_rights_that_any_new_file_gets(tmp_path):
    plain = tmp_path / "plain"
    plain.touch()
    write_whole(tmp_path / "x", b"one")
    assert (tmp_path / "x").stat().st_mode == plain.stat().st_mode


@pytest.mark.parametrize("place", ["missing/x", "file/x", "folder"])
def test_a_place_that_cannot_be_is_refused(tmp_path, place):
    (tmp_path / "file").touch()
    (tmp_path / "folder").mkdir()
    before = sorted(tmp_path.rglob("*"))
    with pytest.raises(FieldError) as caught:
        write_whole(tmp_path / place, b"data")
    assert caught.value.field == "file"
    assert sorted(tmp_path.rglob("*")) == before


@pytest.mark.parametrize("step", ["fsync", "replace"])
def test_when_writing_fails_the_old_file_stays_and_no_part_is_left(tmp_path, monkeypatch, step):
    path = tmp_path / "x"
    write_whole(path, b"old")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os if step == "fsync" else Path, step, full)
    with pytest.raises(FieldError, match="No space left"):
        write_whole(path, b"new")
    assert path.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [path]


def test_a_folder_without_the_right_to_write_is_refused(tmp_path, monkeypatch):
    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(FieldError, match="a place that can be written"):
        write_whole(tmp_path / "x", b"data")
