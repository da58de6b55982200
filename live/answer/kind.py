"""Answers in kind: lines drawn in the call's own voice, by plan, by chance and as controls ask."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from random import Random
from typing import Final

from live.answer.cells import CellDrawer, Lean
from live.answer.dials import Liked, Line, last_note, rest_at_the_end, turn, walked_up
from live.answer.drawer import MelodyDrawer, Wish
from live.answer.scene import Scene
from live.answer.voice import Voice
from live.notes.taste import Taste

LEAST_ONSETS: Final = 3
"""A call of fewer onsets has no voice yet."""


@dataclass(frozen=True, slots=True)
class Plan:
    """What one line sets out to do with the call; what it became is told by its claim.

    Args:
        share: how often it is tried.
        lean: for the rhythm.
        wish: for the pitches.
        head_only: whether the wish ends with the head.
    """

    share: float
    lean: Lean
    wish: Wish
    head_only: bool = True


# Our own taste; what comes of them is set right by the judgement that follows.
PLANS: Final[tuple[Plan, ...]] = (
    Plan(5.0, Lean(), Wish(), head_only=False),
    Plan(1.0, Lean(called=0.5), Wish(called=2.0)),
    Plan(1.5, Lean(called=1.0), Wish(along=2.5, called=-2.0), head_only=False),
    Plan(0.7, Lean(called=1.0), Wish(turned=2.5)),
)

# How far the controls reach at their ends, in log odds; set so that the ends are heard.
_ECHO_CELL, _ECHO_NOTE = 9.0, 11.0
_CONTRAST_NOTE: Final = -7.0
_BUSY: Final = 1.0
_OFF: Final = 2.2
_LEAP: Final = 0.8
_HIGH: Final = 0.6


class Kind:
    """Draws lines in kind for one scene.

    Args:
        scene: with a call of `LEAST_ONSETS` onsets or more.
        rng: chance; decides at once whether these lines shall close or stay open.
    """

    def __init__(self, scene: Scene, rng: Random) -> None:
        self.voice = voice = Voice(scene)
        taste = scene.brief.taste
        self._last = last_note(scene, rng)
        self._liked = Liked(scene)
        self._cells = CellDrawer(voice)
        self._notes = MelodyDrawer(
            voice,
            size=_LEAP * turn(taste.leaps),
            height=_HIGH * turn(taste.register),
        )

    def lines(self, count: int, rng: Random) -> Iterator[Line]:
        """So many lines; alike ones may be among them, but never the one more is wanted of."""
        taste = self.voice.scene.brief.taste
        shares = [plan.share for plan in PLANS]
        for plan in rng.choices(PLANS, shares, k=count):
            line = self._line(_leant(plan.lean, taste), self._wished(plan, taste), rng)
            if not self._liked.is_it(line):
                yield line

    def _line(self, lean: Lean, wish: Wish, rng: Random) -> Line:
        voice = self.voice
        cells = self._cells.draw(lean, rng)
        places = zip(voice.places, cells, strict=True)
        ticks = [place.tick + offset for place, cell in places for offset in cell]
        if self._last.closed:
            rest_at_the_end(ticks, voice.scene)
        last = self._last.pitch_classes(voice.scene, ticks[-1])
        line = self._liked.near(
            (tuple(ticks), tuple(self._notes.draw(ticks, wish, last, rng))), rng
        )
        return (line[0], walked_up(voice.scene, *line)) if voice.scene.brief.taste.walk_up else line

    def _wished(self, plan: Plan, taste: Taste) -> Wish:
        far = turn(taste.contrast)
        if far < 0:
            return plan.wish._replace(called=plan.wish.called * (1 + far) + _ECHO_NOTE * far**2)
        wish = plan.wish._replace(called=plan.wish.called + _CONTRAST_NOTE * far**2)
        if plan.head_only and not far:
            wish = wish._replace(until=self.voice.scene.head_end)
        return wish


def _leant(lean: Lean, taste: Taste) -> Lean:
    echo = max(0.0, -turn(taste.contrast))
    return Lean(
        notes=lean.notes + _BUSY * turn(taste.density),
        off=lean.off + _OFF * turn(taste.syncopation),
        called=lean.called + _ECHO_CELL * echo**2,
    )
