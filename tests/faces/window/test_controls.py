from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from live.daemon.commands import read_command
from live.faces.window.controls import (
    ACTIONS,
    VALUES,
    hint,
    names,
    shown,
    stepped,
    transport,
    typed,
)
from live.theory.keys import parse_key
from live.theory.snap import POLICIES
from tests.faces.states import IDLE, snapshot_named


@pytest.mark.parametrize(
    ("field", "text", "command"),
    [
        ("key", " F# dorian ", ("key", "F# dorian")),
        ("form", "2 2", ("form", "2", "2")),
        ("form", "4+1", ("form", "4", "1")),
        ("form", "4 + 1 bars", ("form", "4", "1", "bars")),
        ("form", "free", ("form", "free")),
        ("tempo", "174", ("tempo", "174")),
        ("progression", "i:2 VI:2", ("progression", "i:2 VI:2")),
    ],
)
def test_what_is_typed_becomes_a_command(field: str, text: str, command: tuple[str, ...]) -> None:
    assert typed(field, text) == command


@pytest.mark.parametrize("value", VALUES, ids=lambda value: value.field)
def test_the_daemon_takes_every_value_back_as_it_is_shown(value) -> None:
    # The daemon's own reader is the judge.
    command, *args = typed(value.field, shown(value.field, IDLE))
    assert read_command(command, args).changes


@pytest.mark.parametrize("way", [1, -1])
@pytest.mark.parametrize("field", ["key", "snap", "tempo", "form"])
def test_the_daemon_takes_every_step(field: str, way: int) -> None:
    snapshot = IDLE
    command, *args = stepped(field, snapshot, way)
    assert read_command(command, args).changes


def test_the_daemon_knows_every_action() -> None:
    for action in ACTIONS:
        order = read_command(action.word, [])
        assert order.event is not None


@pytest.mark.parametrize("first", ["F# dorian", "D foghorn [0 1 5 6]"])
def test_twelve_steps_up_lead_through_all_keys_and_back(first: str) -> None:
    snapshot, seen = replace(IDLE, key=first), []
    for _ in range(12):
        command = stepped("key", snapshot, 1)
        assert command is not None
        snapshot = replace(snapshot, key=command[1])
        seen.append(parse_key(command[1]).tonic_pc)
    assert sorted(seen) == list(range(12))
    assert snapshot.key == first


@pytest.mark.parametrize(
    ("key", "way", "wanted"),
    # Common practice, no source: keys are written with the fewer sharps or flats.
    [("D minor", 1, "Eb minor"), ("D minor", -1, "C# minor"), ("G major", 1, "Ab major")],
)
def test_stepped_keys_are_spelled_with_the_fewer_signs(key: str, way: int, wanted: str) -> None:
    command = stepped("key", replace(IDLE, key=key), way)
    assert command is not None
    spelled = {"Eb minor": {"Eb minor", "D# minor"}}.get(wanted, {wanted})  # six signs either way
    assert command[1] in spelled


def test_tempo_steps_by_one_or_finely_and_stops_at_its_range() -> None:
    assert stepped("tempo", IDLE, 1) == ("tempo", "169.0")
    assert stepped("tempo", IDLE, -1, fine=True) == ("tempo", "167.9")
    assert stepped("tempo", replace(IDLE, tempo=400.0), 1) == ("tempo", "400.0")
    assert stepped("tempo", replace(IDLE, tempo=20.0), -1) == ("tempo", "20.0")


def test_snap_steps_go_round_the_whole_list() -> None:
    snapshot, seen = IDLE, set()
    for _ in POLICIES:
        command = stepped("snap", snapshot, -1)
        assert command is not None
        snapshot = replace(snapshot, snap=command[1])
        seen.add(command[1])
    assert seen == set(POLICIES)


def test_form_steps_end_at_free_and_at_eight_bars() -> None:
    assert stepped("form", IDLE, 1) == ("form", "4", "4")
    assert stepped("form", replace(IDLE, call_bars=1, answer_bars=1), -1) == ("form", "free")
    assert stepped("form", replace(IDLE, free=True), -1) == ("form", "free")
    assert stepped("form", replace(IDLE, call_bars=8, answer_bars=8), 1) == ("form", "8", "8")


def test_there_is_no_next_progression() -> None:
    assert stepped("progression", IDLE, 1) is None


def test_the_transport_word_does_what_comes_next() -> None:
    assert transport(IDLE) == ("start",)
    assert transport(replace(IDLE, playing=True)) == ("stop",)


def test_no_shortcut_is_given_twice() -> None:
    shortcuts = [item.shortcut for item in (*VALUES, *ACTIONS)]
    assert len(set(shortcuts)) == len(shortcuts) == 10


def test_the_front_page_knows_every_shortcut() -> None:
    page = (Path(__file__).resolve().parents[3] / "README.md").read_text(encoding="utf-8")
    table = page.partition("## The window")[2].partition("## ")[0]
    for item in (*VALUES, *ACTIONS):
        assert f"`{item.shortcut}`" in table, item.shortcut


def test_a_key_that_is_heard_stands_in_the_editor_to_be_taken() -> None:
    other = snapshot_named("other-key")
    value = next(value for value in VALUES if value.field == "key")
    assert shown("key", other) == "B minor"
    assert hint(value, other).startswith("Return takes B minor. ")
    assert hint(value, IDLE) == value.hint


def test_own_scales_complete_before_all_others() -> None:
    found = names("key", replace(IDLE, own_scales=("ferry bells",)))
    assert found[0] == "C ferry bells"
    assert "F# dorian" in found
    assert names("snap", IDLE) == POLICIES
    assert names("tempo", IDLE) == ()
