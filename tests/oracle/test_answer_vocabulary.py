"""What a player keeps draws the next answers nearer, on real phrases.

Players: bass tracks in the music of freedoom (BSD-3-Clause), and Ryan's tunes of one key and metre
(corpus of music21). Nearness is measured apart from the product's models (tests/study/players.py):
runs of two notes that stand in the kept phrases. The figures for all players: `make bench`.
"""

from __future__ import annotations

from functools import lru_cache
from statistics import mean

import pytest

from live.answer.vocabulary import MOST_COPIED_BARS, READY_PHRASES
from tests.study.players import (
    bass_players,
    candidates,
    nearness,
    tune_players,
    vocabulary_of,
)

CALLS = 2
PLAYERS = 4
MOST_KEPT = 8
KINDS = {"bass": bass_players, "tunes": tune_players}


@lru_cache(maxsize=2)
def players(kind):
    return KINDS[kind](MOST_KEPT + CALLS)


@lru_cache(maxsize=2)
def met(kind):
    """(player, call, the composer's thirty answers, best first) for calls that were never kept."""
    return [
        (player, turn, [choice.notes for choice in candidates(player, turn)])
        for player in players(kind)[:PLAYERS]
        for turn in player.turns[-CALLS:]
    ]


def near(notes, player, kept):
    """Mean of the notes' and the rhythm's nearness to what was kept."""
    phrases = [turn.answer for turn in player.turns[:kept]]
    return mean(nearness(notes, phrases, player.key).values())


@pytest.mark.parametrize("kept", [READY_PHRASES, MOST_KEPT])
@pytest.mark.parametrize("kind", KINDS)
def test_the_answer_nearest_to_the_vocabulary_is_nearer_to_the_kept_phrases(kind, kept):
    plain, chosen, nearest, farthest = [], [], [], []
    for player, _, lines in met(kind):
        ear = vocabulary_of(player, kept).ear(player.key, player.metre)
        ranked = [near(line, player, kept) for line in sorted(lines, key=ear.score)]
        third = len(ranked) // 3
        plain.append(near(lines[0], player, kept))
        chosen.append(ranked[0])
        nearest.append(mean(ranked[:third]))
        farthest.append(mean(ranked[-third:]))
        best = min(lines, key=ear.score)
        assert ear.longest_copy_ticks(best) <= MOST_COPIED_BARS * player.metre.bar_ticks
    assert mean(chosen) > mean(plain)
    assert mean(nearest) > mean(farthest)


@pytest.mark.parametrize("kind", KINDS)
def test_the_real_answer_is_more_familiar_than_what_others_play(kind):
    """The next phrase of a player, never kept, against all phrases of the others."""
    ranks = []
    for player in players(kind):
        ear = vocabulary_of(player, MOST_KEPT).ear(player.key, player.metre)
        others = [
            ear.score(turn.answer)
            for other in players(kind)
            if other.name != player.name
            for turn in other.turns[:MOST_KEPT]
        ]
        for turn in player.turns[MOST_KEPT : MOST_KEPT + CALLS]:
            own = ear.score(turn.answer)
            ranks.append(mean((own < score) + 0.5 * (own == score) for score in others))
    assert mean(ranks) > 0.8


def test_before_four_are_kept_nothing_is_preferred():
    player = players("bass")[0]
    ear = vocabulary_of(player, READY_PHRASES - 1).ear(player.key, player.metre)
    assert {ear.score(turn.answer) for turn in player.turns} == {0.0}


@pytest.mark.parametrize("kind", KINDS)
def test_a_composer_that_knows_what_was_kept_answers_nearer_to_it(kind):
    plain, taught = [], []
    for player, turn, lines in met(kind):
        kept = min(len(player.turns) - CALLS, MOST_KEPT)
        vocabulary = vocabulary_of(player, kept)
        assert vocabulary.is_ready
        answers = [choice.notes for choice in candidates(player, turn, vocabulary)]
        plain += [near(line, player, kept) for line in lines]
        taught += [near(line, player, kept) for line in answers]
    assert mean(taught) > mean(plain) + 0.03  # .86 to .69 and .58 to .51 when this was written
