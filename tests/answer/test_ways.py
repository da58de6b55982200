"""Labels claim something; these lines do it or do not."""

from __future__ import annotations

from random import Random

import pytest

from live.answer.facts import Facts
from live.answer.rhythm import Rhythms
from live.answer.scene import Scene
from live.answer.ways import WAYS
from live.theory.keys import parse_key
from tests.answer.calls import RIFF, brief, walk

WAY = {way.word: way for way in WAYS}
HEAD = tuple(n.onset_ticks for n in RIFF)


def _holds(word: str, onsets: tuple[int, ...], pitches: tuple[int, ...], **more: object) -> bool:
    return WAY[word].holds(Facts(Scene(brief(progression="Dm", **more)), onsets, pitches))


@pytest.mark.parametrize(
    ("word", "onsets", "pitches", "holds"),
    [
        ("head", HEAD, (38, 41, 43, 41, 38, 36, 38), True),
        ("head", HEAD, (38, 41, 43, 45, 45, 36, 38), True),
        ("head", HEAD, (38, 38, 38, 38, 38, 36, 38), False),
        ("head", (480, 960), (38, 38), False),
        ("turn", HEAD, (38, 34, 33, 34, 38, 38, 38), True),
        ("turn", HEAD, (38, 41, 43, 41, 38, 36, 38), False),
        ("turn", (0, 720), (38, 36), False),
        ("sequence", HEAD, (33, 36, 38, 36, 33, 33, 33), True),
        ("sequence", HEAD, (38, 41, 43, 41, 38, 36, 38), False),
        ("sequence", HEAD, (33, 33, 33, 33, 33, 33, 33), False),
        ("gaps", (0, 480, 960, 1920, 2880), (38,) * 5, True),
        ("gaps", HEAD, (38,) * 7, False),
        ("kick", (0, 2400, 3840, 6240), (38,) * 4, True),
        ("kick", (0, 2400, 3840, 4800, 6240), (38,) * 5, False),
        ("kick", (0, 1920, 3840, 5760, 6720), (38,) * 5, False),
        ("eighths", tuple(range(0, 4800, 480)), (38,) * 10, True),
        ("eighths", (0, 960, 1920), (38,) * 3, False),
        ("eighths", (0, 480, 960, 1440, 1920, 3840), (38,) * 6, False),
        ("roots", (0, 1920, 3840), (38, 26, 45), True),
        ("roots", (0, 1920, 3840), (38, 41, 45), False),
    ],
)
def test_claims(word: str, onsets: tuple[int, ...], pitches: tuple[int, ...], holds: bool) -> None:
    assert _holds(word, onsets, pitches) is holds


def test_without_drums_nothing_locks_to_the_kick() -> None:
    assert not _holds("kick", (0, 2400), (38, 38), groove="none")


def test_words_are_unique() -> None:
    assert len(WAY) == len(WAYS)


@pytest.mark.parametrize("word", ["gaps", "kick", "eighths"])
def test_the_feel_of_a_way_brings_about_what_its_label_says(word: str) -> None:
    held = 0
    for seed in range(40):
        scene = Scene(brief(walk(Random(seed), parse_key("D minor"))))
        onsets = Rhythms(scene.frame, WAY[word].feel).draw(1.2, 1, Random(seed))
        held += WAY[word].holds(Facts(scene, onsets, (38,) * len(onsets)))
    assert held >= 24


def test_one_kick_is_no_lock() -> None:
    # The second kick of the two-step comes after the last note.
    assert not _holds("kick", (0, 1440), (38, 38))
