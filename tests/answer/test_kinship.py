"""Kinship: an answer that takes up the call stands above one that does not."""

from __future__ import annotations

import pytest

from live.answer.kinship import Kinship
from live.clock.metre import Metre

CALL = tuple((480 * i, 480, 62 + step) for i, step in enumerate((0, 3, 7, 3, 5, 3, 2, 0) * 2))
OTHER = tuple((720 * i, 720, 66 + step) for i, step in enumerate((0, 2, 11, 2, 9, 2, 4, 7)))


def test_the_call_itself_is_nearer_than_a_stranger() -> None:
    heard = Kinship(CALL, 2, True, Metre())
    assert heard.score(CALL) > heard.score(OTHER)


@pytest.mark.parametrize("answer", [CALL, OTHER])
def test_parts_sum_to_the_score(answer) -> None:
    heard = Kinship(CALL, 2, True, Metre())
    assert sum(value for _, value in heard.parts(answer)) == pytest.approx(heard.score(answer))


@pytest.mark.parametrize("answer", [CALL, OTHER])
def test_octaves_between_the_lines_do_not_count_when_the_answer_lies_elsewhere(answer) -> None:
    heard = Kinship(CALL, 2, True, Metre(), same_register=False)
    low = tuple((onset, length, pitch - 24) for onset, length, pitch in answer)
    assert heard.score(low) == pytest.approx(heard.score(answer))


def test_silence_is_no_answer_and_no_error() -> None:
    assert Kinship(CALL, 2, True, Metre()).score(()) == 0.0
    assert Kinship((), 2, True, Metre()).score(CALL) == 0.0
