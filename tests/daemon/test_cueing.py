"""Learned cues are kept in the data folder; a damaged file is put aside, nothing is lost."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from live.daemon.cueing import FILE, Cueing
from live.daemon.settings import Settings, defaults, engine_config, read_toml
from live.notes.cues import Trigger
from live.theory.errors import FieldError

DETAIL = {"on": "note C0", "channel": 1, "does": "key F major"}


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    return defaults().changed({"takes.folder": str(tmp_path)})


def triggers(settings: Settings) -> list[Trigger]:
    return [cue.trigger for cue in engine_config(settings).cues]


def test_what_is_learned_is_there_after_a_restart(settings: Settings) -> None:
    learned = Cueing(settings).learn(DETAIL, settings)
    assert triggers(learned) == [Trigger("note", 12, 12, 0)]
    again = Cueing(settings)
    assert triggers(again.use(settings)) == triggers(learned)
    assert again.notice == ""


def test_the_newest_is_first_and_the_same_message_is_learned_anew(settings: Settings) -> None:
    cueing = Cueing(settings)
    cueing.learn(DETAIL, settings)
    cueing.learn({**DETAIL, "on": "pedal"}, settings)
    learned = cueing.learn({**DETAIL, "does": "panic"}, settings)
    cues = engine_config(learned).cues
    assert [cue.wish.command for cue in cues] == ["panic", "key F major"]


def test_forgetting(settings: Settings) -> None:
    cueing = Cueing(settings)
    learned = cueing.learn(DETAIL, settings)
    assert triggers(cueing.forget(learned)) == []
    assert triggers(Cueing(settings).use(settings)) == []


def test_bad_commands_are_refused_when_asked(settings: Settings) -> None:
    with pytest.raises(FieldError, match="learn"):
        Cueing(settings).wish("dance", settings)
    assert Cueing(settings).wish("panic", settings).action == "panic"


@pytest.mark.parametrize(
    "text",
    ["", "{", "[]", '{"version": 2, "cues": []}', '{"version": 1}', '{"version": 1, "cues": [3]}'],
)
def test_a_file_that_cannot_be_read_is_put_aside(
    settings: Settings, tmp_path: Path, text: str
) -> None:
    (tmp_path / FILE).write_text(text, encoding="utf-8")
    cueing = Cueing(settings)
    assert "cues-damaged-1.json" in cueing.notice
    assert (tmp_path / "cues-damaged-1.json").read_text(encoding="utf-8") == text
    assert triggers(cueing.learn(DETAIL, settings)) == [Trigger("note", 12, 12, 0)]


def test_a_cue_that_means_nothing_now_is_told_and_stays_in_the_file(
    settings: Settings, tmp_path: Path
) -> None:
    tables = [{**DETAIL, "does": "section Harbour"}, {**DETAIL, "on": "pedal"}]
    text = json.dumps({"version": 1, "cues": tables})
    (tmp_path / FILE).write_text(text, encoding="utf-8")
    cueing = Cueing(settings)
    assert triggers(cueing.use(settings)) == [Trigger("controller", 64, 64, 0)]
    assert "Harbour" in cueing.notice
    plan = read_toml('[[section]]\nname = "Harbour"\nbars = 2\n', settings)
    assert len(triggers(cueing.use(plan))) == 2
    assert (tmp_path / FILE).read_text(encoding="utf-8") == text
