"""Whoever asked hears when the engine has done it, has refused it, or is not there."""

from __future__ import annotations

import pytest

from live.daemon.commands import Order
from live.daemon.handover import Task
from live.notes.events import Do
from tests.daemon.supervised import FACE, Supervised

BUSY = {"ok": False, "error": "the engine is being started again; ask once more"}


@pytest.fixture
def desk(tmp_path, monkeypatch) -> Supervised:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    return Supervised()


def _again(desk: Supervised) -> Task:
    return Task(Order(event=Do(0, "again")), desk.picture.settings, {"text": "more"})


def test_a_face_hears_once_when_it_is_done(desk) -> None:
    desk.handover.give(_again(desk), FACE)
    ident = desk.sent[0][1]
    assert not desk.replies
    desk.handover.done(ident)
    desk.handover.done(ident)
    assert desk.replies == [{"ok": True, "text": "more"}]


def test_a_refusal_is_told_with_its_reason(desk) -> None:
    desk.handover.give(_again(desk), FACE)
    desk.handover.done(desk.sent[0][1], "once there was a call")
    assert desk.replies == [{"ok": False, "error": "once there was a call", "bad_input": True}]


def test_without_an_engine_nobody_waits(desk) -> None:
    desk.engine_is_there = False
    desk.handover.give(_again(desk), FACE)
    assert desk.replies == [BUSY]


def test_settings_need_no_engine_the_next_one_begins_with_them(desk) -> None:
    settings = desk.picture.settings.changed({"play.key": "F minor"})
    change = Task(Order({"play.key": "F minor"}), settings)
    desk.engine_is_there = False
    desk.handover.give(change, FACE)
    desk.engine_is_there = True
    desk.handover.give(change, FACE)
    desk.handover.engine_ended()
    told = "the engine is being started again, and begins with this"
    assert desk.replies == [{"ok": True, "text": told}] * 2
    assert desk.picture.settings["play.key"] == "F minor"


def test_an_engine_that_ends_leaves_nobody_waiting_and_counts_cues_anew(desk) -> None:
    desk.handover.cue = 5
    desk.handover.give(_again(desk), FACE)
    desk.handover.give(_again(desk))
    desk.handover.engine_ended()
    assert desk.replies == [BUSY]
    assert desk.handover.cue == 0


def test_what_is_asked_clears_the_notice(desk) -> None:
    desk.picture.notice = "the cable is loose"
    desk.handover.give(_again(desk))
    assert desk.picture.notice == ""


def test_settings_read_again_are_not_set_by_hand(desk) -> None:
    changed = desk.picture.settings.changed({"play.key": "E minor"})
    for special, by_hand in (("reload", None), ("", {"key"})):
        desk.handover.give(Task(Order({"play.key": "E minor"}, special=special), changed))
        assert desk.changes[-1].by_hand == by_hand
