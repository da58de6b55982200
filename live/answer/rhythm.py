"""Rhythm of an answer: which spots of the frame become notes, and where the last note falls."""

from __future__ import annotations

from dataclasses import dataclass, replace
from operator import itemgetter
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


class Rhythms:
    """Draws rhythms by one feel; what does not depend on chance is worked out once.

    Args:
        frame: the spots.
        feel: weights.
    """

    def __init__(self, frame: Frame, feel: Feel) -> None:
        self._feel, self._bar_ticks, self._bars = feel, frame.bar_ticks, len(frame.by_bar)
        self._weighed = [[(_weight(spot, feel), spot) for spot in bar] for bar in frame.by_bar]
        self._lasts = _last_onsets(frame)
        self._last_bar = frame.by_bar[-1][0].tick

    def draw(self, call_density: float, short_steps: int, rng: Random) -> tuple[int, ...]:
        """Choose the answer's onsets.

        Args:
            call_density: onsets a quarter note in the call, 0.0 for silence.
            short_steps: how many steps below a triplet eighth a bar may hold.
            rng: chance.
        Returns: ascending ticks, the first always 0, at least a sixteenth apart.
        """
        feel = self._feel
        target = feel.density * (call_density or _SILENT_CALL_DENSITY) * rng.uniform(0.85, 1.2)
        density = min(feel.most, max(feel.least, target))
        last = self._last_onset(rng)
        noise: dict[int, float] = {}
        chosen: list[int] = []
        for bar in range(self._bars):
            weighed = self._heard(bar, last, chosen, noise, rng)
            room = min(self._bar_ticks, last - bar * self._bar_ticks)
            wanted = max(1, round(density * room / TICKS_PER_BEAT)) + (bar == self._bars - 1)
            chosen += _fill(chosen[-1:], weighed, {0, last}, wanted, short_steps)
        return tuple(chosen)

    def _last_onset(self, rng: Random) -> int:
        """Where the closing note falls; on the bar line where no other place will do."""
        if not self._lasts:
            return self._last_bar
        return max(self._lasts, key=lambda one: one[0] + rng.uniform(-0.5, 0.5))[1]

    def _heard(
        self, bar: int, last: int, chosen: list[int], noise: dict[int, float], rng: Random
    ) -> list[tuple[float, Spot]]:
        """The spots of a bar up to the last note, weighed with chance and with the bar before."""
        weighed: list[tuple[float, Spot]] = []
        before, walk_in, chance = set(chosen), last - TICKS_PER_BEAT, rng.random
        for fixed, spot in self._weighed[bar]:
            tick = spot.tick
            if tick > last:
                break
            # One draw a place, shared by all bars, keeps neighbouring bars alike.
            shared = noise.setdefault(spot.offset, 2 * _NOISE * chance() - _NOISE)
            weight = fixed + shared + (2 * _BAR_NOISE * chance() - _BAR_NOISE)
            if walk_in <= tick < last and spot.eighth:
                weight += _WALK_IN
            if tick - self._bar_ticks in before:
                weight += _LIKE_BEFORE
            weighed.append((weight, spot))
        return weighed


def _weight(spot: Spot, feel: Feel) -> float:
    weight = feel.called if spot.called else feel.gap if spot.eighth else 0.0
    weight += feel.kick * spot.kick + feel.snare * spot.snare + feel.strong * spot.strong
    weight += _DOWNBEAT * (spot.offset == 0)
    weight += feel.off * (-1 if spot.beat else 1)
    if not spot.eighth:
        weight += _OFF_GRID_CALLED if spot.called else _OFF_GRID
    return weight


def _last_onsets(frame: Frame) -> list[tuple[float, int]]:
    """Where the closing note may fall, late enough to lead there, early enough to last a beat.

    Returns: how much each is liked, and its tick.
    """
    spots, good = frame.by_bar[-1], []
    for shortest in (TICKS_PER_BEAT, TICKS_PER_SIXTEENTH):
        good = [
            (0.5 * spot.kick - 1.2 * spot.snare + 0.5 * spot.strong, spot.tick)
            for spot in spots
            if spot.eighth
            and spot.offset >= _MIDDLE * frame.bar_ticks
            and frame.end - spot.tick >= shortest
        ]
        if good:
            break
    return good


def _fill(
    before: list[int],
    weighed: list[tuple[float, Spot]],
    forced: set[int],
    wanted: int,
    short_steps: int,
) -> list[int]:
    """The heaviest spots of one bar that keep their distance to each other and to the note before.

    Args:
        before: the note before, if there is one.
        weighed: the bar's spots, ascending.
        forced: ticks that are taken first.
        wanted: how many notes.
        short_steps: as in `Rhythms.draw`.
    """
    taken = [spot.tick for _, spot in weighed if spot.tick in forced]
    others = taken + before
    for _, spot in sorted(weighed, key=itemgetter(0), reverse=True):
        if len(taken) >= wanted:
            break
        tick = spot.tick
        near = min([abs(tick - other) for other in others], default=TICKS_PER_BEAT)
        if near < TICKS_PER_SIXTEENTH:
            continue
        if near < TRIPLET_TICKS:
            # A short step is a pickup: it leads onto the grid, or follows two kicks.
            leads_off = tick - near in others and not (spot.eighth or spot.kick)
            leads_on = tick + near in others and spot.eighth
            if short_steps <= 0 or leads_off or leads_on:
                continue
            short_steps -= 1
        taken.append(tick)
        others.append(tick)
    return sorted(taken)
