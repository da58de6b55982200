"""What the controls do to a line, whoever drew it; how far they reach is our own taste."""

from __future__ import annotations

from itertools import pairwise
from random import Random
from statistics import median
from typing import Final, NamedTuple

from live.answer.scene import Scene
from live.clock.units import TICKS_PER_BEAT
from live.notes.taste import MIDDLE

Line = tuple[tuple[int, ...], tuple[int, ...]]
"""Onsets in ticks, ascending, and one pitch for each."""

OCTAVE: Final = 12

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
            return frozenset({scene.closes(tick)[0].pitch_class})
        if self.open:
            return fit - {key.tonic_pc} or fit
        return fit


def last_note(scene: Scene, rng: Random) -> LastNote:
    """Draw what one line's last note shall be: sure at the ends of the control, else by chance."""
    closing = turn(scene.brief.taste.closing)
    asked = rng.random() < abs(closing)
    return LastNote(asked and closing > 0, asked and closing < 0)


def fitting(scene: Scene, tick: int, *, free: bool = False) -> frozenset[int]:
    """The pitch classes that may stand at a place: where it is strong, only the chord's.

    Without a progression the chord is only a guess: in kind, and for a note that is asked for
    (`free`), the whole key may stand there.
    """
    ground = scene.harmony.at(tick)
    guessed = scene.brief.progression is None and (free or scene.in_kind)
    return ground.fit if guessed or not scene.spots[tick].strong else ground.tones


def rest_at_the_end(onsets: list[int], scene: Scene) -> None:
    """Leave out late notes until the last one is longer than the median step.

    Of two notes the last comes sooner instead: one would be no line.
    """
    end, last_bar = scene.frame.end, scene.frame.end - scene.frame.bar_ticks
    while len(onsets) > 2 and onsets[-1] > last_bar:
        steps = [b - a for a, b in pairwise(onsets)]
        if end - onsets[-1] > median(steps):
            return
        onsets.pop()
    middle = (onsets[0] + end) // 2
    if len(onsets) == 2 and onsets[-1] > middle:
        sooner = [tick for tick, spot in scene.spots.items() if spot.strong]
        onsets[-1] = max((t for t in sooner if onsets[0] < t <= middle), default=onsets[-1])


def walked_up(scene: Scene, onsets: tuple[int, ...], pitches: tuple[int, ...]) -> tuple[int, ...]:
    """The line with a walk up by step into its last note, as far as harmony and range allow it."""
    line = list(pitches)
    low, high = scene.brief.low, scene.brief.high
    reach = (min(_WALK, len(line)) - 1) * _STEP_SEMITONES
    if line[-1] - reach < low and line[-1] + OCTAVE <= high:
        line[-1] += OCTAVE
    for place in range(len(line) - 2, max(-1, len(line) - 1 - _WALK), -1):
        fit = fitting(scene, onsets[place], free=True)
        after = line[place + 1]
        steps = [p for p in range(after - 1, after - 1 - _STEP_SEMITONES, -1) if p % OCTAVE in fit]
        if not steps or steps[0] < low:
            break
        line[place] = steps[0]
    return tuple(line)


class Liked:
    """The line that more is wanted of, laid on the places of a scene.

    Args:
        scene: its brief's `like` may hold notes that swing, octave doubles, and notes that no
            longer fit; of these the nearest place, the lower note and nothing are kept.
    """

    def __init__(self, scene: Scene) -> None:
        self._scene = scene
        self._line: dict[int, int] = {}
        spots, brief = sorted(scene.spots), scene.brief
        for note in brief.like:
            written = scene.frame.swing.written(note.onset_ticks)
            tick = min(spots, key=lambda spot: abs(spot - written))
            fits = note.pitch % OCTAVE in fitting(scene, tick)
            if fits and brief.low <= note.pitch <= brief.high:
                self._line[tick] = min(note.pitch, self._line.get(tick, note.pitch))

    def near(self, line: Line, rng: Random) -> Line:
        """The liked line with a part of the given line put in, a quarter to a half of it."""
        if not self._line:
            return line
        beats = max(1, self._scene.frame.end // TICKS_PER_BEAT)
        size = rng.randint(max(1, beats // 4), max(1, beats // 2))
        first = rng.randrange(beats - size + 1) * TICKS_PER_BEAT
        last = first + size * TICKS_PER_BEAT
        mixed = {tick: pitch for tick, pitch in self._line.items() if not first <= tick < last}
        mixed |= {
            t: p for t, p in zip(*line, strict=True) if first <= t < last or t == 0 not in mixed
        }
        ticks = sorted(mixed)
        return tuple(ticks), tuple(mixed[tick] for tick in ticks)

    def is_it(self, line: Line) -> bool:
        """Whether this is the liked line itself; an octave makes it no other one."""
        classes = {tick: pitch % OCTAVE for tick, pitch in self._line.items()}
        return {tick: pitch % OCTAVE for tick, pitch in zip(*line, strict=True)} == classes
