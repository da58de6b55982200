"""Onsets chosen from the frame."""

from __future__ import annotations

from itertools import pairwise
from random import Random

import pytest

from live.answer.rhythm import Feel, Rhythms
from live.answer.scene import Scene
from tests.answer.calls import BAR, RIFF, brief, notes

CALLED = Feel(called=3.0, gap=0, kick=0, snare=0, strong=0, density=1, least=1.25, most=1.25)
GAPS = Feel(called=-3.0, gap=3, kick=0, snare=0, strong=0, density=1, least=1.0, most=1.0)
KICK = Feel(called=0, gap=0, kick=3.0, snare=-3.0, strong=0, density=1, least=1.25, most=1.25)


def _onsets(feel: Feel, seed: int, short_steps: int = 1, **more: object) -> tuple[int, ...]:
    scene = Scene(brief(**more))
    return Rhythms(scene.frame, feel).draw(1.0, short_steps, Random(seed))


@pytest.mark.parametrize("seed", range(20))
def test_a_feel_for_the_call_plays_its_rhythm(seed: int) -> None:
    first = {o for o in _onsets(CALLED, seed) if o < BAR}
    assert first == {n.onset_ticks for n in RIFF if n.onset_ticks < BAR}


@pytest.mark.parametrize("seed", range(20))
def test_a_feel_for_gaps_keeps_out_of_the_calls_way(seed: int) -> None:
    called = {n.onset_ticks for n in RIFF}
    first = {o for o in _onsets(GAPS, seed) if 0 < o < BAR}
    assert first
    assert not first & called


@pytest.mark.parametrize("seed", range(20))
def test_a_feel_for_the_kick_meets_every_kick_and_no_snare(seed: int) -> None:
    onsets = set(_onsets(KICK, seed))
    last = max(onsets)
    assert {k for k in (0, 2400, 3840, 6240) if k <= last} <= onsets
    assert not onsets & {960, 2880, 4800, 6720}


@pytest.mark.parametrize("short_steps", [0, 1, 3])
def test_distances_first_and_last_note(short_steps: int) -> None:
    sixteenths = notes(*((i, 60) for i in range(32)))
    counts = set()
    for seed in range(40):
        onsets = _onsets(CALLED, seed, short_steps, played=sixteenths)
        assert onsets[0] == 0
        assert all(b - a >= 240 for a, b in pairwise(onsets))
        bars = [[o for o in onsets if o // BAR == bar] for bar in (0, 1)]
        short = [sum(b - a < 320 for a, b in pairwise(bar)) for bar in bars]
        assert max(short) <= short_steps
        counts.add(max(short))
        # The last note lasts a beat at least and comes after the first third of its bar.
        assert 2 * BAR - onsets[-1] >= 960
        assert onsets[-1] - BAR >= BAR / 3
    assert max(counts) == min(short_steps, 2)


def test_density_moves_the_number_of_notes() -> None:
    def count(density: float) -> int:
        feel = Feel(0, 0, 0, 0, 0, density, 0.5, 2.0)
        scene = Scene(brief(()))
        return sum(len(Rhythms(scene.frame, feel).draw(1.0, 1, Random(s))) for s in range(20))

    assert count(0.5) < count(1.0) < count(1.5) < count(2.0)


def test_neighbouring_bars_are_alike() -> None:
    # Bass tracks: bar against next bar 0.88 (grooving similarity, Wu & Yang 2020; 66 tracks with
    # drums in freedoom and OpenMSX), random bars 0.61. The closing bar is left out.
    alike = []
    for seed in range(40):
        onsets = _onsets(KICK, seed, answer_bars=4)
        bars = [{o % BAR // 240 for o in onsets if o // BAR == bar} for bar in range(3)]
        alike += [1 - len(a ^ b) / 16 for a, b in pairwise(bars)]
    assert sum(alike) / len(alike) >= 0.88
