"""What practice remembers of each key."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from live.practice.drill import Tally, start_drill
from live.takes.practised import Practised
from live.theory.errors import FieldError
from live.theory.keys import parse_key
from live.theory.own_scales import own_scale

KEY = parse_key("D minor")


def worked() -> tuple[Tally, ...]:
    return (Tally(8, 2, 0), Tally(1, 0, 5), *(Tally() for _ in range(5)))


def test_half_of_what_was_known_is_known_the_next_time(tmp_path: Path) -> None:
    Practised(tmp_path).keep(replace(start_drill(KEY), tallies=worked()))
    again = Practised(tmp_path).drill(KEY)
    assert again.tallies[:2] == (Tally(4, 1, 0), Tally(0, 0, 2))
    assert again.last is None


def test_each_key_has_its_own(tmp_path: Path) -> None:
    log = Practised(tmp_path)
    log.keep(replace(start_drill(KEY), tallies=worked()))
    log.keep(start_drill(parse_key("F# dorian")))
    again = Practised(tmp_path)
    assert again.drill(KEY).tallies[0].right == 4
    assert again.drill(parse_key("F# dorian")) == start_drill(parse_key("F# dorian"))
    assert again.drill(parse_key("C major")) == start_drill(parse_key("C major"))


@pytest.mark.parametrize(
    "text",
    ["", "[]", "{", '{"D minor": 3}', '{"D minor": [[1, 2]]}', '{"D minor": [[1, 2, -1]]}',
     '{"D minor": [[1, 1, 1]]}', "\x00" * 40, "[" * 100_000],
)  # fmt: skip
def test_a_damaged_file_is_passed_over(tmp_path: Path, text: str) -> None:
    (tmp_path / "practised.json").write_text(text, encoding="utf-8")
    log = Practised(tmp_path)
    assert log.drill(KEY) == start_drill(KEY)
    log.keep(replace(start_drill(KEY), tallies=worked()))
    assert Practised(tmp_path).drill(KEY).tallies[0].right == 4


def test_what_cannot_be_read_is_put_aside_and_not_lost(tmp_path: Path) -> None:
    (tmp_path / "practised.json").write_text("{", encoding="utf-8")
    Practised(tmp_path).keep(start_drill(KEY))
    assert (tmp_path / "practised-damaged-1.json").read_text(encoding="utf-8") == "{"


def test_two_practices_at_once_keep_both_keys(tmp_path: Path) -> None:
    one, other = Practised(tmp_path), Practised(tmp_path)
    one.keep(replace(start_drill(KEY), tallies=worked()))
    other.keep(start_drill(parse_key("C major")))
    again = Practised(tmp_path)
    assert again.drill(KEY).tallies[0].right == 4
    assert len(again.drill(parse_key("C major")).tallies) == 7


def test_a_folder_that_has_gone_is_told(tmp_path: Path) -> None:
    folder = tmp_path / "gone"
    folder.mkdir()
    log = Practised(folder)
    folder.rmdir()
    with pytest.raises(FieldError, match="file"):
        log.keep(start_drill(KEY))


def test_what_is_found_by_ear_is_counted_apart(tmp_path: Path) -> None:
    log = Practised(tmp_path)
    log.keep(replace(start_drill(KEY), tallies=worked()))
    log.keep(start_drill(KEY), by_ear=True)
    again = Practised(tmp_path)
    assert again.drill(KEY).tallies[0].right == 4
    assert again.drill(KEY, by_ear=True) == start_drill(KEY)
    again.keep(replace(start_drill(KEY), tallies=worked()), by_ear=True)
    assert Practised(tmp_path).drill(KEY, by_ear=True).tallies[0].right == 4


def test_a_file_from_before_there_was_practice_by_ear_is_read_and_kept(tmp_path: Path) -> None:
    rows = [[8, 0, 0], *[[0, 0, 0]] * 6]
    (tmp_path / "practised.json").write_text(json.dumps({"C major": rows}), encoding="utf-8")
    log = Practised(tmp_path)
    log.keep(replace(start_drill(KEY), tallies=worked()), by_ear=True)
    kept = json.loads((tmp_path / "practised.json").read_text(encoding="utf-8"))
    assert set(kept) == {"C major", "D minor (by ear)"}
    assert Practised(tmp_path).drill(parse_key("C major")).tallies[0].right == 4


def test_no_scale_can_be_named_like_what_is_kept_by_ear() -> None:
    with pytest.raises(FieldError, match="scale name"):
        own_scale("minor (by ear)", (0, 3, 7))
