"""Practice is remembered where there is a place for it, and goes on where there is none."""

from __future__ import annotations

from pathlib import Path

import pytest

from live.daemon.remembering import Remembering
from live.daemon.settings import defaults
from live.practice.drill import after, start_drill
from live.theory.errors import FieldError
from live.theory.keys import parse_key

KEY = parse_key("D minor")
MISSED = after(after(start_drill(KEY), 2, "wrong"), 2, "wrong")


def remembering(folder: Path | str) -> tuple[Remembering, list[str]]:
    told: list[str] = []
    return Remembering(defaults().changed({"takes.folder": str(folder)}), told.append), told


def test_the_next_one_knows_half_of_it(tmp_path: Path) -> None:
    one, told = remembering(tmp_path)
    one.keep(MISSED)
    again, _ = remembering(tmp_path)
    assert again.drill(KEY).tallies[2].wrong == 1
    assert told == []


def test_without_a_folder_it_says_so_once_and_begins_with_nothing(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    one, told = remembering(tmp_path / "file" / "in")
    assert one.drill(KEY) == start_drill(KEY)
    one.keep(MISSED)
    assert len(told) == 1
    assert told[0].startswith("what is practised is not remembered: ")


def test_what_cannot_be_written_is_said(tmp_path: Path) -> None:
    one, told = remembering(tmp_path)
    (tmp_path / "practised.json").mkdir()
    one.keep(MISSED)
    assert told[0].startswith("what was practised is not remembered: ")


def test_a_home_that_nobody_has_is_an_error() -> None:
    with pytest.raises(FieldError, match=r"takes\.folder"):
        remembering("~nobody-of-that-name/takes")


def test_by_ear_has_a_memory_of_its_own(tmp_path: Path) -> None:
    one, told = remembering(tmp_path)
    one.keep(MISSED)
    ear = Remembering(defaults().changed({"takes.folder": str(tmp_path)}), told.append, by_ear=True)
    assert ear.drill(KEY) == start_drill(KEY)
    ear.keep(after(MISSED, 3, "wrong"))
    assert remembering(tmp_path)[0].drill(KEY).tallies[3].asked == 0
