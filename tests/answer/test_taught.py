"""What the vocabulary says while lines are chosen."""

from __future__ import annotations

from dataclasses import replace

import pytest

from live.answer.compose import compose
from live.answer.facts import Facts
from live.answer.scene import Scene
from live.answer.taught import familiar, is_copy
from live.answer.vocabulary import READY_PHRASES, Vocabulary
from live.clock.metre import Metre
from live.notes.phrase import Brief, Call, PhraseNote
from live.theory.keys import parse_key

D_MINOR, METRE = parse_key("D minor"), Metre()
EIGHTH, BAR = 480, 3840
CALL = Call(
    tuple(PhraseNote(i * 2 * EIGHTH, EIGHTH, p, 90) for i, p in enumerate((62, 65, 64, 62) * 2)), 2
)


def phrase(*pitches: int) -> list[PhraseNote]:
    return [PhraseNote(i * EIGHTH, EIGHTH, p, 90) for i, p in enumerate(pitches)]


def kept(*phrases: list[PhraseNote]) -> Vocabulary:
    vocabulary = Vocabulary()
    for one in phrases:
        vocabulary = vocabulary.learn(one, D_MINOR, METRE)
    return vocabulary


DRONES = [phrase(*[pitch] * (16 - i)) for i, pitch in enumerate((38, 38, 50, 38))]
READY = kept(*DRONES)


def facts(vocabulary: Vocabulary | None, pitches: list[int], bars: int = 2) -> Facts:
    scene = Scene(Brief(CALL, D_MINOR, answer_bars=bars), vocabulary)
    return Facts(scene, tuple(i * EIGHTH for i in range(len(pitches))), tuple(pitches))


def test_nothing_is_said_until_enough_is_kept() -> None:
    few = kept(*DRONES[: READY_PHRASES - 1])
    brief = Brief(CALL, D_MINOR)
    assert compose(brief, few) == compose(brief, Vocabulary()) == compose(brief)
    assert familiar(facts(few, [38] * 16)) == familiar(facts(None, [38] * 16)) == 0.0


def test_a_line_like_the_kept_ones_is_familiar_and_another_is_less_so() -> None:
    drone = familiar(facts(READY, [38] * 16))
    zigzag = familiar(facts(READY, [38, 45, 41, 48] * 4))
    assert drone > 0 > zigzag


def test_answers_lean_to_what_was_kept_and_stay_the_same_for_the_same() -> None:
    briefs = [Brief(CALL, D_MINOR, seed=seed) for seed in range(8)]
    assert compose(briefs[0], READY) == compose(briefs[0], READY)

    def repeats(choices) -> list[float]:
        return [
            sum(a.pitch == b.pitch for a, b in zip(c.notes, c.notes[1:], strict=False))
            / (len(c.notes) - 1)
            for c in choices
        ]

    plain = [share for brief in briefs for share in repeats(compose(brief))]
    taught = [share for brief in briefs for share in repeats(compose(brief, READY))]
    assert sum(taught) / len(taught) > sum(plain) / len(plain)


def test_two_bars_may_be_copied_and_no_more() -> None:
    long_one = [38, 41, 43, 45, 43, 41, 38, 36] * 4
    vocabulary = kept(*DRONES, phrase(*long_one))
    assert not is_copy(facts(vocabulary, long_one[:16]))
    assert is_copy(facts(vocabulary, long_one, bars=4))
    assert not is_copy(facts(vocabulary, [38, 45] * 16, bars=4))
    assert not is_copy(facts(None, long_one, bars=4))


@pytest.mark.parametrize("bars", [1, 2, 4])
def test_every_brief_is_answered_whatever_was_kept(bars: int) -> None:
    brief = replace(Brief(CALL, D_MINOR), answer_bars=bars)
    # Everything that can be composed to it is kept: only copies are left.
    answers = [choice.notes for seed in range(6) for choice in compose(replace(brief, seed=seed))]
    vocabulary = kept(*(list(notes) for notes in answers[: READY_PHRASES + 8]))
    for seed in range(3):
        assert len(compose(replace(brief, seed=seed), vocabulary)) == brief.choices
