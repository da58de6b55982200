"""The settings file read again: what changed in it is taken over, the last word wins."""

from __future__ import annotations

from pathlib import Path

import pytest

from live.daemon.fields import FIELDS
from live.daemon.reloading import SettingsFile
from live.daemon.settings import Settings, load
from live.theory.errors import FieldError

FIRST = '[play]\nkey = "D minor"\n[time]\ntempo = 168\n[ports]\nthrough = "one"\n'


class Desk:
    """A file, and the settings in force."""

    def __init__(self, path: Path, *assignments: str) -> None:
        self.path = path
        self.write(FIRST)
        self.file = SettingsFile(path)
        self.now: Settings = load(path, assignments)

    def write(self, text: str) -> None:
        self.path.write_text(text, encoding="utf-8")

    def reload(self, text: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
        self.write(text)
        done = self.file.read_again(self.now)
        self.now = done.settings
        return done.changed, done.waiting


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return Desk(tmp_path / "mine.toml")


def test_what_changed_in_the_file_is_taken_over_and_named(desk: Desk) -> None:
    assert desk.reload(FIRST) == ((), ())
    assert desk.reload(FIRST.replace("D minor", "G minor")) == (("play.key",), ())
    assert (desk.now["play.key"], desk.now["time.tempo"]) == ("G minor", 168.0)


def test_what_was_changed_by_hand_stays_until_the_file_changes_it(desk: Desk) -> None:
    desk.now = desk.now.changed({"play.key": "E minor", "play.snap": "mute"})
    assert desk.reload(FIRST.replace("168", "172")) == (("time.tempo",), ())
    assert (desk.now["play.key"], desk.now["play.snap"]) == ("E minor", "mute")
    assert desk.reload(FIRST.replace("D minor", "G minor"))[0] == ("play.key", "time.tempo")
    assert (desk.now["play.key"], desk.now["play.snap"]) == ("G minor", "mute")


def test_what_both_changed_to_the_same_is_no_change(desk: Desk) -> None:
    desk.now = desk.now.changed({"play.key": "G minor"})
    assert desk.reload(FIRST.replace("D minor", "G minor")) == ((), ())


def test_what_was_set_on_the_command_line_counts_as_by_hand(tmp_path: Path) -> None:
    desk = Desk(tmp_path / "mine.toml", "play.key=E minor")
    assert desk.reload(FIRST + "client = 'two'\n") == ((), ("ports.client",))
    assert desk.now["play.key"] == "E minor"


def test_a_line_taken_out_means_the_default_again(desk: Desk) -> None:
    assert desk.reload('[play]\nkey = "D minor"\n')[0] == ("time.tempo",)
    assert desk.now["time.tempo"] == 170.0


@pytest.mark.parametrize("field", FIELDS, ids=lambda field: field.name)
def test_every_setting_applies_at_once_or_is_named_as_waiting(desk: Desk, field) -> None:
    others = {
        "text": [
            "i VI",
            "mine",
            "36-99",
            "D dorian",
            "down",
            "plain",
            "i VI",
            "3/4",
            "internal",
            "trap",
            "C1:C3",
        ],
        "names": [["mine"]],
        "switch": [not field.default],
        "whole": [field.low, field.high],
        "number": [field.low, field.high],
    }[field.kind]
    others += field.options
    value = next(v for v in others if is_allowed(field, v) and v != desk.now[field.name])
    section, name = field.name.split(".")
    written = (
        {True: "true", False: "false"}.get(value, repr(value)) if field.kind == "switch" else value
    )
    line = f"{name} = {written if field.kind != 'text' else repr(written)}\n"
    lines = [one for one in FIRST.splitlines(keepends=True) if not one.startswith(f"{name} =")]
    at = next((n for n, one in enumerate(lines) if one == f"[{section}]\n"), None)
    text = f"[{section}]\n{line}" if at is None else line
    lines.insert(len(lines) if at is None else at + 1, text)
    before = desk.now[field.name]
    changed, waiting = desk.reload("".join(lines))
    if field.is_live:
        assert (changed, waiting) == ((field.name,), ())
        assert desk.now[field.name] == field.check(value)
    else:
        assert (changed, waiting) == ((), (field.name,))
        assert desk.now[field.name] == before


def is_allowed(field, value: object) -> bool:
    try:
        field.check(value)
    except FieldError:
        return False
    return True


def test_what_waits_is_named_until_it_is_as_it_was_at_the_start(desk: Desk) -> None:
    other = FIRST.replace('"one"', '"two"')
    assert desk.reload(other) == ((), ("ports.through",))
    assert desk.reload(other.replace("168", "170")) == (("time.tempo",), ("ports.through",))
    assert desk.now["ports.through"] == "one"
    assert desk.reload(FIRST) == (("time.tempo",), ())


def test_tables_apply_at_once(desk: Desk) -> None:
    zone = '[[zone]]\nrange = "C1:B2"\nsnap = "chord"\n'
    assert desk.reload(FIRST + zone) == (("zone",), ())
    [bass] = desk.now.zones
    assert (bass.low, bass.high, bass.snap) == (24, 47, "chord")
    assert desk.reload(FIRST + zone) == ((), ())
    scale = '[[scale]]\nname = "mine"\nsteps = [0, 1, 5, 7]\n'
    with_scale = FIRST.replace("D minor", "D mine") + scale
    assert set(desk.reload(with_scale)[0]) == {"play.key", "scale", "zone"}
    assert desk.now.zones == ()


def test_a_scale_that_goes_leaves_the_key_that_is_in_it(desk: Desk) -> None:
    scale = '[[scale]]\nname = "mine"\nsteps = [0, 1, 5, 7]\n'
    desk.reload(FIRST + scale)
    desk.now = desk.now.changed({"play.key": "D mine"})
    assert desk.reload(FIRST) == (("scale",), ())
    assert desk.now["play.key"] == "D mine [0 1 5 7]"


@pytest.mark.parametrize(
    ("wrong", "parts"),
    [
        (FIRST.replace("D minor", "H minor"), ("play.key", "line 2", "'H minor'", "D minor")),
        (FIRST.replace("168", "1000"), ("time.tempo", "line 4", "1000", "20 to 400")),
        (FIRST + "[lights]\nlayout = '9-3'\n", ("lights.layout", "line 8", "'9-3'", "36-99")),
        (FIRST + "[play\n", ("settings file", "TOML", "line 7")),
        (FIRST + "[[zone]]\nrange = 'C4:C1'\n", ("zone", "line 7", "60, 24")),
    ],
)
def test_a_wrong_file_is_refused_and_the_next_right_one_is_compared_with_the_last_right_one(
    desk: Desk, wrong: str, parts: tuple[str, ...]
) -> None:
    before = desk.now
    with pytest.raises(FieldError) as caught:
        desk.reload(wrong)
    assert all(part in str(caught.value) for part in parts), str(caught.value)
    assert desk.now is before
    assert desk.reload(FIRST.replace("D minor", "G minor")) == (("play.key",), ())


def test_a_file_that_has_gone_is_refused(desk: Desk) -> None:
    desk.path.unlink()
    with pytest.raises(FieldError, match="settings file"):
        desk.file.read_again(desk.now)


def test_the_reply_says_what_changed_and_what_waits(desk: Desk) -> None:
    desk.write(FIRST.replace("D minor", "G minor").replace('"one"', '"two"'))
    reply = desk.file.read_again(desk.now).reply()
    assert reply == {
        "text": "changed: play.key; applies at the next start: ports.through",
        "changed": ["play.key"],
        "next_start": ["ports.through"],
    }
    desk.write(FIRST)
    desk.now = desk.now.changed({"play.key": "D minor"})
    assert desk.file.read_again(desk.now).reply()["text"] == "changed: nothing"


LOW = "own_outputs = ['low']\n"
TO_LOW = "[[zone]]\nname = 'left'\nrange = 'C1:B2'\noutput = 'low'\n"


def test_zones_of_ports_that_are_not_there_yet_wait_with_them(desk: Desk) -> None:
    assert desk.reload(FIRST + LOW + TO_LOW) == ((), ("ports.own_outputs", "zone"))
    assert desk.now.zones == ()
    again = FIRST.replace("168", "172") + LOW + TO_LOW
    assert desk.reload(again) == (("time.tempo",), ("ports.own_outputs", "zone"))
    here = FIRST.replace("168", "172") + "[[zone]]\nrange = 'C1:B2'\n"
    assert desk.reload(here) == (("zone",), ())
    assert [zone.low for zone in desk.now.zones] == [24]


def test_a_route_from_the_return_waits_for_its_port(desk: Desk) -> None:
    route = "outputs = ['synth']\n[[route]]\ninput = 'return'\noutput = 'synth'\n"
    assert desk.reload(FIRST + route) == ((), ("ports.outputs", "route"))
    assert desk.now.routes == ()


def test_a_zone_of_a_port_that_is_nowhere_is_refused(desk: Desk) -> None:
    with pytest.raises(FieldError, match=r"zone\.output"):
        desk.reload(FIRST + TO_LOW)
