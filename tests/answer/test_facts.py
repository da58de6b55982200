"""Facts counted on a line whose notes are written down here."""

from __future__ import annotations

import pytest

from live.answer.facts import Facts
from live.answer.scene import Scene
from tests.answer.calls import BAR, brief, notes

# Answer in D minor over Dm and Bb, two-step: D D F A | Bb C D.
ONSETS = (0, 720, 1920, 2400, 3840, 5280, 6240)
PITCHES = (38, 38, 41, 45, 34, 36, 38)


@pytest.fixture
def facts() -> Facts:
    return Facts(Scene(brief(progression="Dm Bb")), ONSETS, PITCHES)


def test_drums(facts: Facts) -> None:
    assert facts.kicks == (4, 4)
    assert facts.on_snare == 0
    late = Facts(facts.scene, (0, 960, 3840), (38, 38, 38))
    assert late.kicks == (2, 3)
    assert late.on_snare == 1


def test_harmony(facts: Facts) -> None:
    assert facts.roots == 3
    assert facts.ones == (2, 2)
    assert facts.beat_tones == (3, 3)
    assert facts.join == 0


def test_moves(facts: Facts) -> None:
    assert facts.moves == (0, 3, 4, -11, 2, 2)
    assert facts.walk == (34, 36, 38)
    assert facts.repeats == pytest.approx(1 / 6)
    assert facts.leaps == (1, 1)


@pytest.mark.parametrize(
    ("pitches", "walk"),
    [
        ((38, 40, 41), (38, 40, 41)),
        ((40, 38, 40), (38, 40)),
        ((38, 38, 38), (38,)),
        ((33, 38), (38,)),
        ((38,), (38,)),
    ],
)
def test_walks_end_where_the_direction_or_the_step_does(
    pitches: tuple[int, ...], walk: tuple[int, ...]
) -> None:
    line = Facts(Scene(brief()), tuple(480 * i for i in range(len(pitches))), pitches)
    assert line.walk == walk


def test_time(facts: Facts) -> None:
    assert facts.last_ticks == 2 * BAR - 6240
    assert facts.median_ticks == 1080
    # Bars differ in {720, 1920} and {1440}: 3 of 16 cells (Wu & Yang 2020: mean XOR).
    assert facts.bar_likeness == pytest.approx(1 - 3 / 16)
    alone = Facts(facts.scene, (0,), (38,))
    assert alone.median_ticks == alone.last_ticks == 2 * BAR
    assert alone.repeats == 0


def test_the_call(facts: Facts) -> None:
    # RIFF: D at 0, F at 720, G at 1440, F at 2400, D at 3360, C at 3840, D at 4800.
    assert facts.called == 4
    assert facts.head == ((62, 38), (65, 38), (65, 45))
    assert facts.head_same == 1
    along = Facts(facts.scene, (0, 720, 1440, 2400), (33, 36, 40, 38))
    assert along.head_moves == (3, 0, 3)
    against = Facts(facts.scene, (0, 720, 1440, 2400), (45, 41, 41, 43))
    assert against.head_moves == (0, 2, 3)


def test_silence_has_nothing_to_join() -> None:
    silent = Facts(Scene(brief(())), ONSETS, PITCHES)
    assert silent.join is None
    assert silent.called == 0
    assert silent.head == ()


@pytest.mark.parametrize(("last", "first", "apart"), [(62, 38, 0), (62, 37, 1), (60, 42, 6)])
def test_the_join_leaves_octaves_out(last: int, first: int, apart: int) -> None:
    assert Facts(Scene(brief(notes((0, last)))), (0,), (first,)).join == apart
