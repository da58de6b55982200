"""Words and reasons are checked against the notes, counted here without help from live.answer."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from random import Random

import pytest

from live.answer.compose import compose
from live.answer.explain import note_facts
from live.notes.phrase import Brief, Choice, PhraseNote
from live.theory.keys import parse_key
from tests.answer.calls import BAR, RIFF, brief, notes, walk
from tests.answer.told import OPEN, SENTENCES, TAIL, Chord, Drums, Told, check

# Degrees against the major scale by semitones above the tonic (common practice).
IN_MINOR = {0: "1", 2: "2", 3: "b3", 5: "4", 7: "5", 8: "b6", 10: "b7"}
TWO_STEP = Drums(frozenset({0, 2400}), frozenset({960, 2880}), BAR)
DM_CHORDS = (
    Chord("Dm", 2, frozenset({2, 5, 9})),
    Chord("Bb", 10, frozenset({10, 2, 5})),
    Chord("Gm", 7, frozenset({7, 10, 2})),
    Chord("Am", 9, frozenset({9, 0, 4})),
)
TEXT = "i VI iv v"


def _chords(made: Brief) -> Callable[[int], Chord]:
    return lambda tick: DM_CHORDS[(made.answer_first_bar + tick // BAR) % 4]


PLAYED = [walk(Random(seed), parse_key("D minor")) for seed in range(40)]
PLAYED += [RIFF, (), notes((0, 62, 32)), notes(*((4 * i, 74) for i in range(8)))]


def test_every_reason_is_true_of_the_notes() -> None:
    seen = dict.fromkeys(SENTENCES, 0)
    low = [tuple(replace(n, pitch=n.pitch - 24) for n in played) for played in PLAYED]
    for seed, played in enumerate(PLAYED + low):
        for count in (3, 8):
            made = brief(played, progression=TEXT, first_bar=seed % 4, choices=count, seed=seed)
            for choice in compose(made):
                assert 2 <= len(choice.reasons) <= 4
                told = Told(made, choice, _chords(made), TWO_STEP)
                for reason in choice.reasons:
                    seen[check(told, reason)] += 1
    rare = {
        r"Leaves the snare alone\.",
        r"Stays on (\S+) to close" + TAIL,
        r"Your rhythm, other notes: (\d+) of (\d+) start where yours do\.",
        r"Holds over the bar line (once|twice|\d+ times)\.",
        r"One note, (\S+), that rings\.",
        OPEN,
    }
    assert [pattern for pattern, count in seen.items() if not count and pattern not in rare] == []


def test_the_words_are_true_of_the_notes() -> None:
    for seed, played in enumerate(PLAYED):
        for choice in compose(brief(played, progression=TEXT, seed=seed)):
            pitches = [n.pitch for n in choice.notes]
            move = pitches[-1] - pitches[-2]
            way = "up to" if move > 0 else "fall to" if move else "stay on"
            assert choice.words[1] == f"{way} {IN_MINOR[(pitches[-1] - 2) % 12]}"
            assert choice.words[0] in {
                "head", "turn", "sequence", "gaps", "kick", "eighths", "roots", "figure", "rhythm",
                "free", "held", "sixteenths", "triplets",
            }  # fmt: skip


def test_reasons_of_a_slash_chord_speak_of_the_bass_note() -> None:
    told = {
        reason
        for seed in range(20)
        for choice in compose(brief((), progression="Dm/A", seed=seed))
        for reason in choice.reasons
    }
    assert "Starts every bar on the bass note." in told
    assert not any("the root" in reason for reason in told)


@pytest.mark.parametrize(
    ("chord", "pitch", "wanted"),
    [
        # Common practice: chord roles and degrees of D minor.
        ("Dm", 38, ("1", "R")),
        ("Bb", 38, ("1", "3")),
        ("Gm", 38, ("1", "5")),
        ("Am", 38, ("1", "")),
        ("A7", 37, ("7", "3")),
        ("A7", 43, ("4", "b7")),
    ],
)
def test_note_facts_give_degree_and_role(chord: str, pitch: int, wanted: tuple[str, str]) -> None:
    made = brief(RIFF, progression=chord)
    choice = Choice(1, 1.0, ("x",), ("a", "b"), (PhraseNote(0, 240, pitch, 90),))
    assert note_facts(choice, made) == [wanted]


def test_one_note_facts_a_note() -> None:
    made = brief(RIFF, progression=TEXT)
    for choice in compose(made):
        assert len(note_facts(choice, made)) == len(choice.notes)
