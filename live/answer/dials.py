"""What the controls do to a line, whoever drew it; how far they reach is our own taste."""

from __future__ import annotations

from itertools import pairwise
from random import Random
from statistics import median
from typing import Final, NamedTuple

from live.answer.endings import closes
from live.answer.scene import Scene
from live.notes.taste import MIDDLE

_WALK: Final = 3
"""Notes of a walk up, the last one included."""

_STEP_SEMITONES: Final = 3
"""The widest step of a walk: two rungs of a pentatonic scale."""


def turn(dial: float) -> float:
    """How far a dial is turned from its middle, -1 to 1."""
    return (dial - MIDDLE) / MIDDLE


class LastNote(NamedTuple):
    """What the controls want of the last note: closed, open, or neither."""

    closed: bool
    open: bool

    def pitch_classes(self, scene: Scene, tick: int) -> frozenset[int]:
        """The pitch classes a last note at `tick` may have; never empty."""
        key = scene.brief.key
        fit = fitting(scene, tick)
        if self.closed:
            found = closes(scene.spots[tick], scene.frame, scene.harmony, key)
            return frozenset({found[0].pitch_class})
        if self.open:
            return fit - {key.tonic_pc} or fit
        return fit


def last_note(scene: Scene, rng: Random) -> LastNote:
    """Draw what one line's last note shall be: sure at the ends of the control, else by chance."""
    closing = turn(scene.brief.taste.closing)
    asked = rng.random() < abs(closing)
    return LastNote(asked and closing > 0, asked and closing < 0)


def fitting(scene: Scene, tick: int) -> frozenset[int]:
    """The pitch classes that may stand at a place: where it is strong, only the chord's.

    In kind and without a progression the chord is only a guess, so the whole key is free.
    """
    ground = scene.harmony.at(tick)
    free = scene.in_kind and scene.brief.progression is None
    return ground.fit if free or not scene.spots[tick].strong else ground.tones


def rest_at_the_end(onsets: list[int], scene: Scene) -> None:
    """Leave out late notes until the last one is longer than the median step."""
    end, last_bar = scene.frame.end, scene.frame.end - scene.frame.bar_ticks
    while len(onsets) > 2 and onsets[-1] > last_bar:
        steps = [b - a for a, b in pairwise(onsets)]
        if end - onsets[-1] > median(steps):
            break
        onsets.pop()


def walked_up(scene: Scene, onsets: tuple[int, ...], pitches: tuple[int, ...]) -> tuple[int, ...]:
    """The line with a walk up by step into its last note, as far as harmony and range allow it."""
    line = list(pitches)
    low, high = scene.brief.low, scene.brief.high
    reach = (min(_WALK, len(line)) - 1) * _STEP_SEMITONES
    if line[-1] - reach < low and line[-1] + 12 <= high:
        line[-1] += 12
    for place in range(len(line) - 2, max(-1, len(line) - 1 - _WALK), -1):
        fit = fitting(scene, onsets[place])
        after = line[place + 1]
        steps = [p for p in range(after - 1, after - 1 - _STEP_SEMITONES, -1) if p % 12 in fit]
        if not steps or steps[0] < low:
            break
        line[place] = steps[0]
    return tuple(line)
