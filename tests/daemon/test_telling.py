"""Sentences in the faces: how long they stand, and what is said of the journal."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from live.daemon.picture import Picture
from live.daemon.settings import defaults
from live.daemon.telling import NOTICE_S, Telling

FULL = "The journal cannot be used: the disk is full."


class Room:
    """A telling with a clock that is set by hand, a journal that is only spoken of, no faces."""

    def __init__(self) -> None:
        self.now_s = 100.0
        self.journal: Any = SimpleNamespace(error="", notice="", lost=0, put=lambda _: None)
        self.picture = Picture(defaults())
        nobody: Any = SimpleNamespace(watchers=0)
        self.telling = Telling(self.picture, nobody, self.journal, lambda: self.now_s)

    def after(self, seconds: float) -> str:
        """What faces show then."""
        self.now_s += seconds
        self.telling.look()
        return self.picture.notice


def test_a_sentence_makes_room_for_other_words_after_a_while() -> None:
    room = Room()
    room.telling.tell("two clocks come in")
    assert room.after(NOTICE_S) == "two clocks come in"
    assert room.after(0.1) == ""


def test_a_newer_sentence_has_its_own_time() -> None:
    room = Room()
    room.telling.tell("one")
    room.after(NOTICE_S - 1)
    room.telling.tell("two")
    assert room.after(NOTICE_S) == "two"


def test_what_is_wrong_with_the_journal_stands_while_it_lasts(
    capsys: pytest.CaptureFixture[str],
) -> None:
    room = Room()
    room.journal.error = FULL
    assert room.after(0.1) == FULL
    room.picture.notice = ""  # as after a command
    assert room.after(0.1) == FULL
    room.telling.tell("two clocks come in")
    assert room.after(0.1) == "two clocks come in"
    assert room.after(NOTICE_S + 0.1) == FULL
    room.journal.error = ""
    assert room.after(0.1) == "the journal is written again"
    assert room.after(NOTICE_S + 0.1) == ""
    assert capsys.readouterr().err.count(FULL) == 1


def test_trouble_that_comes_back_is_told_again_and_losses_are_counted(
    capsys: pytest.CaptureFixture[str],
) -> None:
    room = Room()
    for lost in (0, 3):
        room.journal.error = FULL
        room.after(0.1)
        room.journal.error, room.journal.lost = "", lost
        said = room.after(0.1)
    assert said == "the journal is written again; 3 records are lost"
    assert capsys.readouterr().err.count(FULL) == 2


def test_a_journal_that_was_put_aside_is_told_once(capsys: pytest.CaptureFixture[str]) -> None:
    room = Room()
    room.journal.notice = "It was kept as journal-damaged-1.sqlite."
    assert room.after(0.1) == room.journal.notice
    room.after(1.0)
    assert capsys.readouterr().err.count("damaged") == 1
