"""The critic hears the difference between a line as wanted and one that breaks a single rule."""

from __future__ import annotations

import pytest

from live.answer.critic import FEATURES, score
from live.answer.facts import Facts
from live.answer.scene import Scene
from tests.answer.calls import brief

SCENE = Scene(brief(progression="Dm"))
ONSETS = (0, 720, 1440, 2400, 3840, 4320, 5280, 5760)
PITCHES = (38, 38, 38, 38, 38, 38, 36, 38)
FEATURE = {feature.name: feature for feature in FEATURES}


def _measure(name: str, onsets: tuple[int, ...], pitches: tuple[int, ...]) -> float:
    return FEATURE[name].measure(Facts(SCENE, onsets, pitches))


@pytest.mark.parametrize(
    ("name", "better", "worse"),
    [
        ("plays on the kick", (ONSETS, PITCHES), ((0, 480, 1440, 2880), (38,) * 4)),
        ("leaves the snare", (ONSETS, PITCHES), ((0, 960, 2880), (38,) * 3)),
        ("repeats its note", ((0, 480, 960), (38, 38, 41)), ((0, 480, 960), (38, 41, 45))),
        ("repeats its note", ((0, 480, 960), (38, 38, 41)), ((0, 480, 960), (38, 38, 38))),
        ("turns after leaps", ((0, 480, 960), (38, 45, 43)), ((0, 480, 960), (33, 38, 45))),
        ("bars alike", ((0, 720, 3840, 4560), (38,) * 4), ((0, 720, 4320, 5280), (38,) * 4)),
        ("small join", ((0,), (38,)), ((0,), (32,))),
        ("closes at home", ((0, 480), (38, 38)), ((0, 480), (38, 41))),
        ("closes at home", ((0, 480), (38, 41)), ((0, 480), (38, 36))),
        ("long last note", ((0, 480, 960), (38,) * 3), ((0, 3840, 7200), (38,) * 3)),
        ("steps home", ((0, 480), (36, 38)), ((0, 480), (33, 38))),
        ("steps home", ((0, 480), (33, 38)), ((0, 480), (38, 38))),
        ("chord on the beat", ((0, 960), (38, 41)), ((0, 960), (38, 40))),
        ("root on one", ((0, 3840), (38, 38)), ((0, 3840), (41, 45))),
        ("moves", ((0, 480, 960), (38, 41, 43)), ((0, 480, 960), (38, 38, 50))),
        ("kin to the call", (ONSETS[:4], PITCHES[:4]), ((0, 480, 2400, 2880), (38,) * 4)),
        ("head comes back", ((0, 720, 1440), (38, 41, 43)), ((0, 720, 1440), (38, 38, 38))),
    ],
)
def test_each_feature_prefers_what_its_source_says(
    name: str,
    better: tuple[tuple[int, ...], tuple[int, ...]],
    worse: tuple[tuple[int, ...], tuple[int, ...]],
) -> None:
    assert _measure(name, *better) > _measure(name, *worse)


def test_every_feature_has_a_source_a_weight_and_a_test() -> None:
    for feature in FEATURES:
        assert feature.source
        assert feature.weight > 0
    assert len(FEATURE) == len(FEATURES)
    marks = test_each_feature_prefers_what_its_source_says.pytestmark[0].args[1]
    assert {name for name, *_ in marks} == set(FEATURE)


@pytest.mark.parametrize("pitches", [(38,), PITCHES, (28, 55, 28, 55, 28, 55, 28, 55)])
def test_scores_lie_between_0_and_1(pitches: tuple[int, ...]) -> None:
    facts = Facts(SCENE, ONSETS[: len(pitches)], pitches)
    assert 0 <= score(facts) <= 1


def test_a_good_line_beats_a_bad_one() -> None:
    good = Facts(SCENE, ONSETS, (38, 41, 43, 41, 38, 38, 36, 38))
    bad = Facts(SCENE, (0, 960, 2880, 4800, 6720), (32, 40, 47, 54, 42))
    assert score(good) > score(bad) + 0.3
