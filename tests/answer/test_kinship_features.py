"""Counts of the kinship critic: published worked examples, and laws over random phrases."""

from __future__ import annotations

from random import Random

import pytest

from live.answer.kinship_features import (
    CALLED,
    COMPARED,
    FIGURES,
    Heard,
    compare,
    expectation,
    of_call,
)
from live.answer.kinship_phrase import STEPS, Phrase
from live.answer.kinship_words import WORDS

SCALE = (60, 62, 64, 65, 67, 69, 71, 72)


def phrase(seed: int, parts: int = 8) -> Phrase:
    random = Random(seed)
    onsets = sorted({0, *random.sample(range(0, 96, 3), random.randint(4, 20))})
    return Phrase(onsets, [random.randint(48, 84) for _ in onsets], parts)


def counts(call: Phrase, answer: Phrase) -> dict[str, int]:
    return dict(zip(COMPARED, compare(Heard(call, is_minor=False), answer), strict=True))


@pytest.mark.parametrize(
    ("notes", "reversal"),
    [
        # Worked from Schellenberg 1997, Music Perception 14:295-318, two-factor model.
        ((60, 69, 67), 1.0),
        ((60, 69, 61), 2.5),
        ((60, 69, 71), -1.0),
        ((60, 62, 60), 1.5),
    ],
)
def test_pitch_reversal(notes, reversal) -> None:
    assert (expectation(*notes) - 2) / 2 == reversal


CLAVES = {
    "son": "x..x..x...x.x...",
    "shiko": "x...x.x...x.x...",
    "rumba": "x..x...x..x.x...",
    "soukous": "x..x..x...xx....",
    "bossa": "x..x..x...x..x..",
}


@pytest.mark.parametrize("other", ["shiko", "rumba", "soukous", "bossa"])
def test_son_differs_from_each_other_clave_in_two_sixteenths(other) -> None:
    # Toussaint 2013, The Geometry of Musical Rhythm: the clave family, Hamming distances; grooving
    # similarity (Wu & Yang 2020, ISMIR) is 1 - 2/16.
    made = []
    for name in ("son", other):
        onsets = [3 * step for step, sign in enumerate(CLAVES[name]) if sign == "x"]
        made.append(Phrase(onsets + [48 + onset for onset in onsets], [60] * 10, 8))
    found = counts(*made)
    assert (found["rhythm 3:1"], found["rhythm 4:2"]) == (2, 2)


def test_degrees_of_a_major_scale_are_steps_one_apart() -> None:
    assert [STEPS[pitch] for pitch in SCALE] == list(range(35, 43))


@pytest.mark.parametrize("parts", [6, 8, 12])
@pytest.mark.parametrize("seed", range(20))
def test_counts_are_bytes_as_many_as_their_names(seed, parts) -> None:
    call, answer = phrase(seed, parts), phrase(seed + 100, parts)
    rows = compare(Heard(call, is_minor=False), answer), of_call(call, is_minor=True)
    assert [len(row) for row in rows] == [len(COMPARED), len(CALLED)]
    assert all(0 <= count <= 255 for row in rows for count in row)


@pytest.mark.parametrize("seed", range(20))
def test_a_copy_has_everything_of_the_call(seed) -> None:
    one = phrase(seed)
    found = counts(one, one)
    assert all(found[f"{what}"] == 8 for what in ("same 3:1", "sequence 3:1", "same 4:2"))
    assert all(found[figure] == 4 for figure in FIGURES)
    assert found["head"] == len(one.pitches)
    assert found["rhythm 3:1"] == found["distance 4:2"] == 0


@pytest.mark.parametrize("seed", range(20))
def test_a_sequence_keeps_shape_and_rhythm_but_not_the_pitches(seed) -> None:
    random = Random(seed)
    onsets = sorted({0, *random.sample(range(0, 96, 6), 9)})
    degrees = [random.randrange(7) for _ in onsets]
    call = Phrase(onsets, [SCALE[degree] for degree in degrees], 8)
    moved = Phrase(onsets, [SCALE[degree + 1] for degree in degrees], 8)
    found = counts(call, moved)
    assert (found["same 3:1"], found["head"]) == (0, 0)
    assert (found["sequence 3:1"], found["sequence 4:2"]) == (8, 8)
    assert found["half bar moved"] == found["half bar's rhythm"] == 4
    assert found["distance 3:1"] == 4


def test_every_count_is_said_in_words() -> None:
    assert len(WORDS) == len(COMPARED) + len(CALLED)
    assert len(set(COMPARED + CALLED)) == len(WORDS)
