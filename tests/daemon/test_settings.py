"""Settings: one table, and errors that say field, range, value and line."""

from __future__ import annotations

import dataclasses
import math
import pickle
import re
from pathlib import Path

import pytest

from live.daemon.fields import BY_NAME, FIELDS, find_field, read_range
from live.daemon.settings import (
    data_dir,
    defaults,
    engine_config,
    journal_path,
    load,
    read_toml,
    settings_path,
)
from live.notes.taste import Taste
from live.takes.writer import JournalWriter
from live.theory.errors import FieldError


@pytest.fixture(autouse=True)
def own_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))


@pytest.mark.parametrize("field", FIELDS, ids=lambda field: field.name)
def test_every_default_is_allowed_and_every_field_says_what_it_is(field) -> None:
    assert field.check(field.default) == field.default
    assert field.doc.endswith(".")
    assert field.allowed
    assert BY_NAME[field.name] is field


def test_names_are_told_once() -> None:
    assert len(BY_NAME) == len(FIELDS)


@pytest.mark.parametrize("field", [f for f in FIELDS if f.low is not None], ids=lambda f: f.name)
def test_both_ends_of_a_range_are_in_and_beyond_is_out(field) -> None:
    kind = int if field.kind == "whole" else float
    assert field.check(kind(field.low)) == field.low
    assert field.check(kind(field.high)) == field.high
    for bad in (kind(field.low) - 1, kind(field.high) + 1, "1", True, None, [1]):
        with pytest.raises(FieldError) as caught:
            field.check(bad)
        assert caught.value.field == field.name
        assert caught.value.got == bad
        assert re.search(rf"{field.low:g}\b.* to ", caught.value.allowed)


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_a_number_that_is_none_is_refused(bad: float) -> None:
    with pytest.raises(FieldError):
        find_field("time.tempo").check(bad)


@pytest.mark.parametrize(
    ("name", "bad"),
    [
        ("play.key", "H minor"),
        ("play.snap", "sideways"),
        ("play.labels", "roman"),
        ("time.metre", "4/5"),
        ("form.call_bars", 3),
        ("form.free", "yes"),
        ("answer.range", "E1"),
        ("answer.range", "E1:G1"),
        ("ports.keyboards", "one"),
        ("ports.keyboards", [1]),
        ("play.key", 3),
    ],
)
def test_what_is_not_allowed_is_refused_under_the_fields_name(name: str, bad: object) -> None:
    with pytest.raises(FieldError) as caught:
        find_field(name).check(bad)
    assert caught.value.field == name


@pytest.mark.parametrize(
    ("name", "text", "value"),
    [
        ("time.tempo", "171.3", 171.3),
        ("form.call_bars", "4", 4),
        ("form.free", "on", True),
        ("form.free", "false", False),
        ("play.key", "d min", "D minor"),
        ("ports.keyboards", "one, two", ["one", "two"]),
    ],
)
def test_values_typed_by_hand(name: str, text: str, value: object) -> None:
    assert find_field(name).from_text(text) == value


@pytest.mark.parametrize(("name", "text"), [("time.tempo", "fast"), ("form.call_bars", "2.5")])
def test_values_typed_wrongly(name: str, text: str) -> None:
    with pytest.raises(FieldError):
        find_field(name).from_text(text)


def test_ranges_are_read_by_name_and_by_number() -> None:
    assert read_range("E1:G3") == read_range("28:55") == (28, 55)


def test_an_unknown_setting_is_answered_with_the_known_ones() -> None:
    with pytest.raises(FieldError, match=r"play\.key") as of_play:
        find_field("play.colour")
    assert "time.tempo" not in of_play.value.allowed
    with pytest.raises(FieldError, match=r"sections are play, song, time"):
        find_field("playing.key")


# Files


def test_a_file_changes_what_it_names_and_nothing_else() -> None:
    settings = read_toml('[play]\nkey = "F# dorian"\n[time]\ntempo = 174\n', defaults())
    assert settings["play.key"] == "F# dorian"
    assert settings["time.tempo"] == 174.0
    assert settings["play.snap"] == defaults()["play.snap"]


@pytest.mark.parametrize(
    ("text", "line", "field"),
    [
        ('[play]\n\nkey = "H minor"\n', 3, "play.key"),
        ("[time]\ntempo = nan\n", 2, "time.tempo"),
        ("[time]\n# tempo = 5\ntempo = 1e9\n", 3, "time.tempo"),
        (f"[time]\ntempo = 1{'0' * 400}\n", 2, "time.tempo"),
        ('[answer]\nchoices = "three"\n', 2, "answer.choices"),
        ("[play]\nkee = 1\n", 2, "setting"),
        ('[sound]\n"level_db" = 3\n', 2, "sound.level_db"),
        ("tempo = 3\n", 1, "setting"),
        ('[play]\nkey = "D minor"\nprogression = "i Q iv"\n', 3, "play.progression"),
        ('[answer]\ngroove = "polka"\n', 2, "answer.groove"),
        ('[[zone]]\nname = "a"\n\n[[zone]]\nrole = "cook"\n', 4, "zone.role"),
    ],
)
def test_a_wrong_file_is_told_with_its_line(text: str, line: int, field: str) -> None:
    with pytest.raises(FieldError) as caught:
        read_toml(text, defaults())
    assert caught.value.field == field
    assert f"line {line}" in caught.value.where


def test_a_file_that_is_no_toml(tmp_path: Path) -> None:
    for text in ("[play\nkey", f"a = {'9' * 5000}", f"a = {'[' * 3000}", "[play]\n[play]"):
        with pytest.raises(FieldError, match="TOML"):
            read_toml(text, defaults())
    for name, content in (("latin.toml", "ü".encode("latin-1")), ("nothing.toml", None)):
        path = tmp_path / name
        if content is not None:
            path.write_bytes(content)
        with pytest.raises(FieldError, match="settings file"):
            load(path)


def test_defaults_then_file_then_assignments(tmp_path: Path) -> None:
    assert load()["play.key"] == "A minor"
    path = tmp_path / "mine.toml"
    path.write_text('[play]\nkey = "G minor"\n[time]\ntempo = 160\n', encoding="utf-8")
    settings = load(path, ["time.tempo=165"])
    assert (settings["play.key"], settings["time.tempo"]) == ("G minor", 165.0)
    with pytest.raises(FieldError, match="NAME=VALUE"):
        load(path, ["tempo"])


def test_a_file_may_begin_with_the_mark_that_some_editors_write(tmp_path: Path) -> None:
    path = tmp_path / "marked.toml"
    path.write_text('[play]\nkey = "G minor"\n', encoding="utf-8-sig")
    assert load(path)["play.key"] == "G minor"


def test_the_users_own_file_is_found() -> None:
    settings_path().parent.mkdir(parents=True)
    settings_path().write_text('[play]\nkey = "Bb major"\n', encoding="utf-8")
    assert load()["play.key"] == "Bb major"


def test_the_journal_is_in_the_data_folder_or_where_it_is_told(tmp_path: Path) -> None:
    assert journal_path() == data_dir() / "journal.sqlite"
    assert tmp_path / "data" in journal_path().parents
    elsewhere = defaults().changed({"takes.folder": str(tmp_path / "takes")})
    assert journal_path(elsewhere) == tmp_path / "takes" / "journal.sqlite"


# Changes


def test_the_folder_of_a_user_who_is_not_there_is_refused() -> None:
    with pytest.raises(FieldError, match=r"takes\.folder"):
        journal_path(defaults().changed({"takes.folder": "~nobody-of-this-name/takes"}))


def test_a_data_folder_that_cannot_be_made_ends_nothing(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    folder = tmp_path / "file" / "takes"
    path = journal_path(defaults().changed({"takes.folder": str(folder)}))
    assert path == folder / "journal.sqlite"
    writer = JournalWriter(path)
    assert not writer.flush()
    assert str(path) in writer.error
    writer.close()


def test_a_refused_change_changes_nothing() -> None:
    before = defaults()
    with pytest.raises(FieldError):
        before.changed({"play.key": "D minor", "time.tempo": 5})
    assert before == defaults()
    assert before.changed({"play.key": "d"})["play.key"] == "D major"


def test_settings_cross_process_borders() -> None:
    settings = defaults().changed({"play.key": "D minor"})
    assert pickle.loads(pickle.dumps(settings)) == settings


def test_the_engines_part() -> None:
    settings = defaults().changed(
        {"play.key": "D minor", "play.progression": "i VI", "answer.channel": 16}
    )
    config = engine_config(settings)
    assert config.key.name == "D minor"
    assert config.progression is not None
    assert config.progression.bars == 2
    assert (config.answer.low, config.answer.high, config.answer.channel) == (28, 55, 15)


def test_every_control_of_the_answer_reaches_the_engine() -> None:
    assert engine_config(defaults()).answer.taste == Taste()
    wanted = Taste(0.0, 0.1, 0.2, 0.3, 0.4, 0.6, 0.7, 1.0, walk_up=True, octave_double=True)
    changes = {f"taste.{name}": value for name, value in dataclasses.asdict(wanted).items()}
    assert engine_config(defaults().changed(changes)).answer.taste == wanted


# Zones

ZONES = """
[[zone]]
name = "bass"
range = "C1:B2"
channels = [1, 2]
snap = "chord"
transpose = -12
out_channel = 2
velocity = [1, 90]

[[zone]]
name = "rest"
role = "plain"
"""


def test_zones_are_read() -> None:
    bass, rest = read_toml(ZONES, defaults()).zones
    assert (bass.low, bass.high, bass.channels) == (24, 47, frozenset({0, 1}))
    assert (bass.snap, bass.transpose, bass.out_channel, bass.max_velocity) == ("chord", -12, 1, 90)
    assert (rest.role, rest.low, rest.high, rest.snap) == ("plain", 0, 127, None)


@pytest.mark.parametrize(
    "wrong",
    [
        "colour = 1",
        'range = "C4"',
        'range = "C5:C4"',
        "channels = 3",
        "channels = [0]",
        "channels = [true]",
        "out_channel = 17",
        "velocity = [90, 1]",
        "velocity = [1]",
        'velocity = "loud"',
        'snap = "sideways"',
        "transpose = 1.5",
        "transpose = 60",
    ],
)
def test_a_wrong_zone_is_told_with_its_line(wrong: str) -> None:
    with pytest.raises(FieldError) as caught:
        read_toml("# zones\n[[zone]]\n" + wrong, defaults())
    assert "line 2" in caught.value.where


def test_zones_written_as_something_else() -> None:
    with pytest.raises(FieldError, match=r"\[\[zone\]\]"):
        read_toml("zone = 3\n", defaults())


def test_no_setting_is_without_effect() -> None:
    """Each is read somewhere under its full name, or with its section in an f-string."""
    root = Path(__file__).resolve().parents[2] / "live"
    texts = [path.read_text("utf-8") for path in root.rglob("*.py") if path.name != "fields.py"]
    source = "\n".join(texts)
    for field in FIELDS:
        section = field.name.partition(".")[0]
        assert f'"{field.name}"' in source or f'f"{section}.{{' in source, field.name
