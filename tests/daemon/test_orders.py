"""What faces and cues ask for, beside the commands themselves (test_commands)."""

from __future__ import annotations

import json

import pytest

from live.daemon.picture import Picture
from live.notes.events import SCREEN_SOURCE, Do, MidiIn
from live.notes.facts import fact
from tests.daemon.supervised import FACE, Supervised


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))


def test_a_fault_of_ours_in_a_command_is_told_and_the_next_one_works(monkeypatch) -> None:
    desk = Supervised()
    monkeypatch.setattr(Picture, "heard", lambda *_: 1 // 0)
    desk.orders.ask(FACE, "key", ["heard"])
    (reply,) = desk.replies
    assert not reply["ok"]
    assert "bad_input" not in reply
    assert "ZeroDivisionError" in str(reply["error"])
    assert [json.loads(record.detail)["what"] for record in desk.told] == [reply["error"]]
    desk.orders.ask(FACE, "status", [])
    assert desk.replies[1]["ok"]


def test_chords_that_are_none_are_told_under_the_commands_name() -> None:
    desk = Supervised()
    desk.orders.ask(FACE, "progression", ["i", "Q"])
    assert "progression (character 3): got 'Q'; allowed: a numeral" in str(desk.replies[0]["error"])


def test_a_wrong_value_is_the_faces_own_affair() -> None:
    desk = Supervised()
    desk.orders.ask(FACE, "key", ["H", "minor"])
    assert desk.replies[0]["bad_input"] is True
    assert not desk.told
    assert not desk.sent


def test_a_setting_is_taken_and_handed_to_the_engine_as_one_set_by_hand() -> None:
    desk = Supervised()
    desk.orders.ask(FACE, "key", ["F", "minor"])
    (settings,), (change,) = desk.used, desk.changes
    assert settings["play.key"] == change.config.key.name == "F minor"
    assert change.by_hand == {"key"}
    assert desk.picture.snapshot().key == "F minor"


def test_a_wish_goes_to_the_engine_and_changes_nothing_else() -> None:
    desk = Supervised()
    desk.orders.ask(FACE, "panic", [])
    assert desk.changes == [Do(0, "panic")]
    assert not desk.used


def test_notes_of_a_face_that_plays_come_from_a_source_of_its_own() -> None:
    desk = Supervised()
    desk.orders.ask(FACE, "note", ["on", "C4"])
    desk.players.join(FACE)
    desk.orders.ask(FACE, "note", ["on", "C4"])
    assert desk.changes == [
        MidiIn(0, SCREEN_SOURCE, b"\x90\x3c\x5a"),
        MidiIn(0, desk.players.leave(FACE), b"\x90\x3c\x5a"),
    ]
    assert desk.changes[0].source != desk.changes[1].source


def test_lights_that_are_off_cannot_be_drawn_again() -> None:
    desk = Supervised()
    desk.orders.ask(FACE, "lights", [])
    assert "allowed: while lights.on is true" in str(desk.replies[0]["error"])
    assert not desk.sent


def test_a_drill_changes_what_the_engine_does() -> None:
    desk = Supervised()
    desk.orders.ask(FACE, "drill", ["start"])
    assert len(desk.used) == len(desk.changes) == 1


def test_quit_is_answered_before_it_is_done() -> None:
    desk = Supervised()
    desk.orders.ask(FACE, "quit", [])
    assert desk.replies == [{"ok": True}]
    assert desk.has_quit
    assert not desk.sent


def test_what_a_cue_asks_of_the_supervisor_is_numbered_and_nobody_waits_for_it() -> None:
    desk = Supervised()
    told = {"number": 3, "command": "progression i iv", "done": False}
    desk.orders.follow(fact("cue", 5, **told))
    (change,) = desk.changes
    assert (change.cue, change.by_hand) == (3, {"progression"})
    desk.orders.follow(fact("cue", 6, **{**told, "done": True}))
    assert len(desk.changes) == 1
    desk.handover.done(1)
    assert not desk.replies


def test_a_cue_that_means_nothing_any_more_is_told() -> None:
    desk = Supervised()
    desk.orders.follow(fact("cue", 5, number=1, command="key heard", done=False))
    assert "once a key has been heard" in desk.told[0].detail
    assert desk.used == [desk.picture.settings]
