"""Every action is carried out, and `again` means what is dictated while something is."""

from __future__ import annotations

from typing import get_args

import pytest

from live.notes.events import ANSWER, Action, Dictate, Do
from live.notes.phrase import PhraseNote
from live.theory.errors import FieldError
from tests.notes.stage import SECOND, Stage

NOTE = (PhraseNote(0, 480, 40, 80),)


@pytest.mark.parametrize("action", get_args(Action))
def test_every_action_is_done_or_refused_with_a_reason(action: str) -> None:
    stage = Stage()
    refused = ""
    try:
        stage.do(action)
    except FieldError as error:
        refused = error.allowed
    assert bool(refused) == (action in ("again", "keep", "more", "choose"))


def test_again_is_refused_without_a_call_unless_something_is_dictated() -> None:
    stage = Stage()
    with pytest.raises(FieldError, match="again"):
        stage.engine.wishes.check(Do(0, "again"))
    stage.feed(Dictate(0, NOTE))
    stage.engine.wishes.check(Do(0, "again"))
    stage.to(SECOND)
    stage.do("again")
    stage.to(2 * SECOND)
    assert [pitch for _, pitch in stage.struck(ANSWER)] == [40, 40]
    assert stage.requests == []


@pytest.mark.parametrize("action", ["keep", "more", "choose"])
def test_what_is_dictated_makes_nothing_else_possible(action: str) -> None:
    stage = Stage()
    stage.feed(Dictate(0, NOTE))
    with pytest.raises(FieldError):
        stage.do(action)
