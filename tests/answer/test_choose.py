"""Choices are good and differ."""

from __future__ import annotations

from random import Random

import pytest

from live.answer.choose import Draft, distance, draw, pick
from live.answer.facts import Facts
from live.answer.scene import Scene
from live.answer.ways import WAYS
from tests.answer.calls import brief

SCENE = Scene(brief())
WAY = {way.word: way for way in WAYS}


def _facts(*places: tuple[int, int]) -> Facts:
    return Facts(SCENE, tuple(o for o, _ in places), tuple(p for _, p in places))


def _draft(score: float, word: str, ending: str, *places: tuple[int, int]) -> Draft:
    return Draft(_facts(*places), WAY.get(word), (word, ending), score)


A = ((0, 38), (480, 38), (960, 41))
B = ((0, 38), (720, 45), (1440, 43))


def test_distance_is_the_share_of_notes_not_shared() -> None:
    # Jaccard distance: 1 - |shared| / |all|; octaves do not matter.
    assert distance(_facts(*A), _facts(*A)) == 0
    assert distance(_facts(*A), _facts((0, 50), (480, 26), (960, 53))) == 0
    assert distance(_facts(*A), _facts(*B)) == pytest.approx(1 - 1 / 5)
    assert distance(_facts((0, 38)), _facts((0, 39))) == 1


def test_a_copy_gives_way_to_a_different_line() -> None:
    best = _draft(0.9, "head", "up to 1", *A)
    copy = _draft(0.89, "head", "up to 1", *A)
    other = _draft(0.6, "gaps", "fall to 1", *B)
    assert pick([copy, other, best], 2) == [best, other]


def test_choices_come_best_first_and_never_too_many() -> None:
    drafts = [
        _draft(0.5, "head", "up to 1", *A),
        _draft(0.8, "gaps", "fall to 5", *B),
        _draft(0.7, "kick", "up to 5", (0, 33), (2400, 33)),
    ]
    assert [d.score for d in pick(drafts, 3)] == [0.8, 0.7, 0.5]
    assert [d.score for d in pick(drafts, 1)] == [0.8]
    assert len(pick(drafts, 9)) == 3
    assert pick([], 3) == []


def test_a_line_without_a_claim_comes_later() -> None:
    claims = _draft(0.7, "head", "up to 1", *A)
    free = _draft(0.8, "free", "up to 1", *B)
    assert pick([free, claims], 1) == [claims]


def test_likelier_lines_are_taken_more_often() -> None:
    drafts = [
        Draft(_facts((0, 38), (480 * (i + 1), 41)), None, ("free", str(i)), 0.5) for i in range(2)
    ]
    firsts = [draw(drafts, [0.0, 2.0], 1, Random(seed))[0].words[1] for seed in range(200)]
    # Odds of e squared to one: 88 in 100.
    assert 0.8 < firsts.count("1") / 200 < 0.95
