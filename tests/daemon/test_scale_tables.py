from __future__ import annotations

import pickle
from pathlib import Path

import pytest

from live.daemon.commands import read_command
from live.daemon.picture import Picture
from live.daemon.scale_tables import SCALE_FIELDS
from live.daemon.settings import defaults, engine_config, load, read_toml
from live.theory.errors import FieldError
from live.theory.keys import parse_key

FOGHORN = """
[play]
key = "d foghorn"

[[scale]]
name = "foghorn"
steps = [0, 6, 1, 5, 10, 11]

[[scale]]
name = "Two tone"
steps = [0, 7]
"""
WRITTEN = "D foghorn [0 1 5 6 10 11]"


def test_a_key_may_name_a_scale_of_the_settings() -> None:
    settings = read_toml(FOGHORN, defaults())
    assert [scale.steps for scale in settings.scales] == [(0, 1, 5, 6, 10, 11), (0, 7)]
    assert settings["play.key"] == WRITTEN
    assert engine_config(settings).key.pitch_classes == {2, 3, 7, 8, 0, 1}


def test_the_scales_stay_through_changes_and_pickling() -> None:
    settings = read_toml(FOGHORN, defaults()).changed({"play.key": "C minor"})
    settings = pickle.loads(pickle.dumps(settings))
    assert settings.changed({"play.key": "Gb TWO-TONE"})["play.key"] == "Gb Two tone [0 7]"
    assert read_toml("[time]\ntempo = 170\n", settings).scales == settings.scales


def test_the_daemon_tells_a_key_that_every_face_can_read() -> None:
    picture = Picture(read_toml(FOGHORN, defaults()))
    assert parse_key(str(picture.status()["key"])).name == WRITTEN


def test_assignments_after_the_file(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_text(FOGHORN, encoding="utf-8")
    assert load(path, ["play.key=E two tone"])["play.key"] == "E Two tone [0 7]"


@pytest.mark.parametrize(
    ("command", "args"), [("key", ["D", "foghorn"]), ("set", ["play.key", "D", "foghorn"])]
)
def test_commands(command: str, args: list[str]) -> None:
    own = read_toml(FOGHORN, defaults()).scales
    assert read_command(command, args, own).changes == {"play.key": WRITTEN}
    with pytest.raises(FieldError, match="tonic and a scale"):
        read_command(command, args)


def test_an_unknown_scale_is_told_with_the_nearest_of_ones_own() -> None:
    own = read_toml(FOGHORN, defaults()).scales
    with pytest.raises(FieldError, match="did you mean foghorn") as caught:
        read_command("key", ["D", "foghrn"], own)
    assert caught.value.field == "key"
    with pytest.raises(FieldError, match="did you mean foghorn") as caught:
        read_toml(FOGHORN.replace("d foghorn", "d foghrn"), defaults())
    assert (caught.value.field, caught.value.where) == ("play.key", "line 3")


@pytest.mark.parametrize(
    ("wrong", "field", "allowed"),
    [
        ("steps = [0, 7]", "scale.name", SCALE_FIELDS["name"]),
        ('name = "dorian"\nsteps = [0, 7]', "scale.name", SCALE_FIELDS["name"]),
        ('name = "fog"', "scale.steps", SCALE_FIELDS["steps"]),
        ('name = "fog"\nsteps = "0 1"', "scale.steps", SCALE_FIELDS["steps"]),
        ('name = "fog"\nsteps = [1, 2]', "scale.steps", SCALE_FIELDS["steps"]),
        ('name = "fog"\nsteps = [0]', "scale.steps", SCALE_FIELDS["steps"]),
        ('name = "fog"\nsteps = [0, 14]', "scale.steps", SCALE_FIELDS["steps"]),
        ('name = "fog"\nnotes = [0, 1]', "scale.notes", "one of name, steps"),
    ],
)
def test_a_wrong_scale_is_told_with_its_line(wrong: str, field: str, allowed: str) -> None:
    with pytest.raises(FieldError) as caught:
        read_toml("# scales\n[[scale]]\n" + wrong, defaults())
    assert caught.value.field == field
    assert allowed.removeprefix("a list of ") in caught.value.allowed
    assert caught.value.where == "scale at line 2"


def test_a_name_used_twice() -> None:
    twice = '[[scale]]\nname = "fog"\nsteps = [0, 7]\n' * 2
    with pytest.raises(FieldError, match="no other scale has") as caught:
        read_toml(twice, defaults())
    assert caught.value.where == "scale at line 4"


@pytest.mark.parametrize("text", ["scale = 3\n", "scale = [1]\n", "[scale]\nname = 'fog'\n"])
def test_scales_written_as_something_else(text: str) -> None:
    with pytest.raises(FieldError, match=r"\[\[scale\]\]"):
        read_toml(text, defaults())
