"""Pitches in the call's own voice."""

from __future__ import annotations

from itertools import pairwise
from math import exp
from random import Random
from statistics import fmean

import pytest

from live.answer.drawer import MelodyDrawer, Wish, weights_of
from live.answer.melody import (
    FARTHEST,
    Flow,
    allowed,
    arrival_features,
    kind_of,
    note_features,
    size_features,
    spot_of,
    step_features,
)
from live.answer.scene import Scene
from live.answer.voice import Voice
from tests.answer.calls import PROGRESSIONS, SCALE_PCS, brief, notes

BASS = notes((0, 38), (2, 38), (6, 41), (10, 33), (16, 38), (22, 36, 6))
TICKS = (0, 480, 1440, 2400, 3840, 5280)
NO_WISH = Wish()
ANY = frozenset(range(12))


def _voice(**more: object) -> Voice:
    return Voice(Scene(brief(BASS, **more)))


def _lines(voice: Voice, wish: Wish = NO_WISH, count: int = 60, **lean: float) -> list[list[int]]:
    drawer = MelodyDrawer(voice, **lean)
    return [drawer.draw(TICKS, wish, ANY, Random(seed)) for seed in range(count)]


def test_lines_stay_in_range_and_key() -> None:
    for path in _lines(_voice()):
        assert len(path) == len(TICKS)
        assert all(28 <= pitch <= 55 and pitch % 12 in SCALE_PCS["D minor"] for pitch in path)


def test_strong_places_take_the_chord_where_a_progression_is_given() -> None:
    voice = _voice(progression="i VI iv v")
    chords = PROGRESSIONS["D minor", "i VI iv v"]
    # The answer's bars are the third and fourth; 0 and 3840 are their first beats.
    assert {p % 12 for p in allowed(voice, 0)} == chords[2]
    assert {p % 12 for p in allowed(voice, 3840)} == chords[3]
    assert {p % 12 for p in allowed(voice, 480)} == SCALE_PCS["D minor"]


def test_the_quick_way_gives_the_chances_that_the_features_say() -> None:
    # The drawer works ahead; here each chance is summed feature by feature.
    voice = _voice()
    weights = weights_of(voice.is_bass)
    drawer = MelodyDrawer(voice)
    path = [38, 38, 41, 33]
    flow = Flow(voice, TICKS)
    for pitch in path:
        flow.add(pitch)
    column = drawer._column(TICKS[4], spot_of(4, len(TICKS)))
    quick = drawer._chances(TICKS, flow, column)
    slow = []
    for pitch in column.notes.pitches:
        step = voice.step(33, pitch)
        found = note_features(voice, TICKS[4], pitch, "last but one")
        found += step_features(voice.step(41, 33), step) + size_features(voice, step)
        found += arrival_features(step, beat="beat", last=False)
        found += [
            (name, 1.0)
            for is_step, value, name in flow.rules()
            if value == (step if is_step else pitch)
        ]
        total = sum(weights.get(name, 0.0) * value for name, value in found)
        slow.append(exp(total) if abs(step) <= FARTHEST else 0.0)
    scale = sum(slow) / sum(quick)
    assert [q * scale for q in quick] == pytest.approx(slow, rel=1e-6, abs=1e-9)


def test_a_flow_tells_what_the_next_note_would_take_up() -> None:
    voice = _voice()
    flow = Flow(voice, (0, 480, 1440, 2400))
    flow.add(38)
    rules = set(flow.rules())
    assert (False, 38, "as called after 1") in rules
    assert (True, 0, "step as called after 0") in rules
    assert (False, 41, "two notes of the call") in rules  # D to F is in the call
    flow.add(38)
    rules = set(flow.rules())
    assert (True, 2, "step as called after 1") in rules  # D up two steps to F
    assert (True, -2, "step turned over") in rules
    assert (False, 41, "three notes of the call") in rules


def test_wishes_are_followed() -> None:
    voice = _voice()
    for path in _lines(voice, Wish(called=30)):
        called = [voice.line[tick] for tick in TICKS if tick in voice.line]
        assert [p for p, tick in zip(path, TICKS, strict=True) if tick in voice.line] == called
    for path in _lines(voice, Wish(along=30, called=-30)):
        assert voice.step(*path[1:3]) == 2  # the call goes up two steps there
    for path in _lines(voice, Wish(turned=30)):
        room = path[1] - 28 >= 4  # two steps down from there are still in range
        assert voice.step(*path[1:3]) == -2 or not room


def test_leaning_moves_sizes_and_heights() -> None:
    voice = _voice()

    def size(**lean: float) -> float:
        return fmean(abs(b - a) for p in _lines(voice, **lean) for a, b in pairwise(p))

    def height(**lean: float) -> float:
        return fmean(fmean(path) for path in _lines(voice, **lean))

    assert size(size=-0.8) < size() < size(size=0.8)
    assert height(height=-0.5) < height() < height(height=0.5)


def test_the_last_note_is_one_of_those_asked_for() -> None:
    drawer = MelodyDrawer(_voice())
    for seed in range(40):
        assert drawer.draw(TICKS, Wish(), frozenset({9}), Random(seed))[-1] % 12 == 9
    # Where none fits, any that fits will do.
    assert drawer.draw(TICKS, Wish(), frozenset({1}), Random(1))[-1] % 12 in SCALE_PCS["D minor"]


def test_kinds_of_moves() -> None:
    # A third and a fourth are skips, a fifth and more leaps (our own line).
    kinds = [kind_of(step) for step in (-5, -3, -1, 0, 1, 2, 4)]
    assert kinds == [
        "leap down", "skip down", "step down", "stay", "step up", "skip up", "leap up",
    ]  # fmt: skip
