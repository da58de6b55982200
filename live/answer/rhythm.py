"""Rhythm of an answer: which spots of the frame become notes, and where the last note falls."""

from __future__ import annotations

from dataclasses import dataclass, replace
from random import Random
from typing import Final

from live.answer.dials import turn
from live.answer.frame import Frame, Spot
from live.answer.listen import TRIPLET_TICKS
from live.answer.scene import Scene
from live.clock.units import TICKS_PER_BEAT, TICKS_PER_SIXTEENTH
from live.notes.taste import Taste


@dataclass(frozen=True, slots=True)
class Feel:
    """How a way of answering weighs the spots.

    The numbers are our own taste, set by ear and held inside the bands of the bass statistics.

    Args:
        called: weight of the call's own onsets.
        gap: weight of grid spots where the call is silent.
        kick: weight of a kick.
        snare: weight of a snare, negative.
        strong: weight of a strong spot.
        density: notes, as a multiple of the call's.
        least: fewest notes a quarter note.
        most: most notes a quarter note.
        off: weight of spots off the beat; spots on the beat lose as much.
    """

    called: float
    gap: float
    kick: float
    snare: float
    strong: float
    density: float
    least: float
    most: float
    off: float = 0.0


# How far the controls reach at their ends, in weight of a spot.
_OFF_REACH: Final = 1.6
_CONTRAST_REACH: Final = 2.0

_NOISE: Final = 0.45
_BAR_NOISE: Final = 0.1
_LIKE_BEFORE: Final = 0.7
_DOWNBEAT: Final = 0.8
_OFF_GRID: Final = -0.9
_OFF_GRID_CALLED: Final = -0.3
_WALK_IN: Final = 0.8
_MIDDLE: Final = 0.35
_SILENT_CALL_DENSITY: Final = 1.3

FAST_BPM: Final = 130.0
"""From here on sixteenths are pickups only. Design choice: above it a sixteenth lasts less than
115 ms, near the 100 ms floor of what is heard as a subdivision (Camara, Sensing Sound and
Music, week 5)."""


def felt(feel: Feel, taste: Taste) -> Feel:
    """The feel as the controls want it: density doubled or halved at the ends of its dial."""
    more = 2.0 ** turn(taste.density)
    return replace(
        feel,
        called=feel.called - _CONTRAST_REACH * max(0.0, turn(taste.contrast)),
        density=feel.density * more,
        least=feel.least * more,
        most=feel.most * more,
        off=feel.off + _OFF_REACH * turn(taste.syncopation),
    )


def echoed(onsets: tuple[int, ...], scene: Scene, rng: Random) -> tuple[tuple[int, ...], set[int]]:
    """The onsets with whole beats of the call's in their place, and the beats' first ticks.

    The share of such beats is how far the control is turned to echo; at its end all are.
    """
    echo = -turn(scene.brief.taste.contrast)
    beats = range(0, scene.frame.end, TICKS_PER_BEAT)
    taken = {beat for beat in beats if rng.random() < echo}
    kept = {o for o in onsets if o // TICKS_PER_BEAT * TICKS_PER_BEAT not in taken}
    back = {o for o in scene.melody if o // TICKS_PER_BEAT * TICKS_PER_BEAT in taken}
    found = sorted(kept | back | {0})
    spaced = [o for i, o in enumerate(found) if not i or o - found[i - 1] >= TICKS_PER_SIXTEENTH]
    return tuple(spaced), taken


def pick_onsets(
    frame: Frame, feel: Feel, call_density: float, short_steps: int, rng: Random
) -> tuple[int, ...]:
    """Choose the answer's onsets.

    Args:
        frame: the spots.
        feel: weights.
        call_density: onsets a quarter note in the call, 0.0 for silence.
        short_steps: how many steps below a triplet eighth a bar may hold.
        rng: chance.
    Returns: ascending ticks, the first always 0, at least a sixteenth apart.
    """
    target = feel.density * (call_density or _SILENT_CALL_DENSITY) * rng.uniform(0.85, 1.2)
    density = min(feel.most, max(feel.least, target))
    last = _last_onset(frame, rng)
    noise: dict[int, float] = {}
    chosen: list[int] = []
    for bar in range(len(frame.by_bar)):
        weighed: list[tuple[float, Spot]] = []
        for spot in frame.by_bar[bar]:
            if spot.tick > last:
                break
            # One draw a place, shared by all bars, keeps neighbouring bars alike.
            shared = noise.setdefault(spot.offset, rng.uniform(-_NOISE, _NOISE))
            weight = _weight(spot, feel) + shared + rng.uniform(-_BAR_NOISE, _BAR_NOISE)
            if last - TICKS_PER_BEAT <= spot.tick < last and spot.eighth:
                weight += _WALK_IN
            if spot.tick - frame.bar_ticks in chosen:
                weight += _LIKE_BEFORE
            weighed.append((weight, spot))
        room = min(frame.bar_ticks, last - bar * frame.bar_ticks)
        wanted = max(1, round(density * room / TICKS_PER_BEAT)) + (bar == len(frame.by_bar) - 1)
        chosen = _fill(chosen, weighed, {0, last}, wanted, short_steps)
    return tuple(chosen)


def _weight(spot: Spot, feel: Feel) -> float:
    weight = feel.called if spot.called else feel.gap if spot.eighth else 0.0
    weight += feel.kick * spot.kick + feel.snare * spot.snare + feel.strong * spot.strong
    weight += _DOWNBEAT * (spot.offset == 0)
    weight += feel.off * (-1 if spot.beat else 1)
    if not spot.eighth:
        weight += _OFF_GRID_CALLED if spot.called else _OFF_GRID
    return weight


def _last_onset(frame: Frame, rng: Random) -> int:
    """Where the closing note falls: late enough to lead there, early enough to last a beat."""
    spots = frame.by_bar[-1]
    start = spots[0].tick
    for shortest in (TICKS_PER_BEAT, TICKS_PER_SIXTEENTH):
        good = [
            spot
            for spot in spots
            if spot.eighth
            and spot.tick - start >= _MIDDLE * frame.bar_ticks
            and frame.end - spot.tick >= shortest
        ]
        if good:
            break
    else:
        return start
    return max(
        good,
        key=lambda s: 0.5 * s.kick - 1.2 * s.snare + 0.5 * s.strong + rng.uniform(-0.5, 0.5),
    ).tick


def _fill(
    before: list[int],
    weighed: list[tuple[float, Spot]],
    forced: set[int],
    wanted: int,
    short_steps: int,
) -> list[int]:
    """Add the heaviest spots of one bar that keep their distance to all chosen ones."""
    taken = [spot.tick for _, spot in weighed if spot.tick in forced]
    for _, spot in sorted(weighed, key=lambda pair: -pair[0]):
        if len(taken) >= wanted:
            break
        others = taken + before[-1:]
        near = min((abs(spot.tick - other) for other in others), default=TICKS_PER_BEAT)
        if near < TICKS_PER_SIXTEENTH:
            continue
        if near < TRIPLET_TICKS:
            # A short step is a pickup: it leads onto the grid, or follows two kicks.
            leads_off = spot.tick - near in others and not (spot.eighth or spot.kick)
            leads_on = spot.tick + near in others and spot.eighth
            if short_steps <= 0 or leads_off or leads_on:
                continue
            short_steps -= 1
        taken.append(spot.tick)
    return before + sorted(taken)
