"""From a way of answering to slots: what becomes of the call's head, and where the line lies."""

from __future__ import annotations

from bisect import bisect_right
from itertools import pairwise
from statistics import fmean
from typing import Final, Literal, NamedTuple

from live.answer.dials import turn
from live.answer.harmony import Ground, Harmony
from live.answer.line import Slot
from live.answer.line_moves import OCTAVE, WIDEST
from live.answer.scene import Scene
from live.answer.ways import Way
from live.clock.units import TICKS_PER_BEAT
from live.notes.phrase import Brief
from live.theory.keys import Key

Arc = Literal["level", "rise", "fall", "arch", "dip"]

ARCS: Final[tuple[Arc, ...]] = ("level", "arch", "rise", "fall", "dip")


class Wish(NamedTuple):
    """A pitch the line is drawn to, and how strongly (cost of missing it, 0 or more)."""

    pitch: int
    pull: float


class Outline(NamedTuple):
    """What a line sets out to do.

    Args:
        way: how to answer.
        arc: where the line lies over time.
        figure: one of FIGURES, for bars that neither the head nor an earlier bar decides.
        targets: from `head_targets` for the same way.
        echo: pitches by tick that must come back if harmony allows it.
    """

    way: Way
    arc: Arc
    figure: tuple[int, ...]
    targets: dict[int, int]
    echo: dict[int, int]


FIGURES: Final[tuple[tuple[int, ...], ...]] = (
    (0, 0, 7, 0),
    (0, 12, 0, 7),
    (0, 0, -2, 0),
    (0, 3, 5, 7),
    (0, 0, 7, 10),
    (0, 7, 10, 12),
    (0, -5, -2, 0),
    (0, 0, 3, 5),
    (12, 10, 7, 0),
    (0, 7, 5, 3),
)
"""What a bar of bass does over its chord, in semitones above the root; the note of the key that
is nearest stands for each. Common practice, no source."""

_NEW_CHORD_SHARE: Final = 0.3
"""Where a new chord starts its root weighs more than the call's note."""

_FIGURE_PULL: Final = 1.5
_ECHO_PULL: Final = 30.0
_TETHER: Final = 0.35
"""Cost of a semitone off the centre where the register is wanted most; our own taste."""

_EDGE: Final = 4
_RINGING_SHARE: Final = 0.5
"""A note between the call's onsets is drawn this much less to the note that still rings."""

_CENTRE_ABOVE_LOW: Final = 8
"""Semitones above the lowest note: 36 for E1, near the median bass note 35 of 66 bass tracks."""

_ARC_SEMITONES: Final[dict[Arc, tuple[float, float, float]]] = {
    "level": (0.0, 0.0, 0.0),
    "arch": (0.0, 7.0, 0.0),
    "rise": (-2.0, 2.0, 6.0),
    "fall": (6.0, 2.0, -2.0),
    "dip": (4.0, -3.0, 2.0),
}

_LOWEST_USUAL: Final = 28


def compass(brief: Brief) -> tuple[int, int]:
    """The part of the allowed range that is searched: all of it up to two octaves and a bit.

    A wider range keeps to the bass end, from E1 (28) on where the range allows it.
    """
    if brief.high - brief.low <= WIDEST:
        return brief.low, brief.high
    low = max(brief.low, min(_LOWEST_USUAL, brief.high - WIDEST))
    return low, min(brief.high, low + WIDEST)


def head_targets(way: Way, scene: Scene) -> dict[int, int]:
    """Pitches the call's head suggests, by tick of the answer, inside the compass."""
    melody = {tick: pitch for tick, pitch in scene.melody.items() if tick < scene.head_end}
    if way.motif not in ("same", "inverted", "moved") or not melody:
        return {}
    pitches = list(melody.values())
    if way.motif == "inverted":
        pitches = _inverted(pitches, scene.brief.key)
    elif way.motif == "moved":
        pitches = _moved(pitches, scene.brief.key, scene.harmony)
    return dict(zip(melody, _into_range(pitches, *compass(scene.brief)), strict=True))


class Slots:
    """Lays out what the line search needs to know; what is the same for all lines only once.

    Args:
        scene: what the lines stand in.
    """

    def __init__(self, scene: Scene) -> None:
        self._scene, frame = scene, scene.frame
        self._low, self._top = compass(scene.brief)
        self._high = turn(scene.brief.taste.register)
        self._guessed = scene.brief.progression is None
        self._end, self._bar_ticks = frame.end, frame.bar_ticks
        self._period = frame.bar_ticks * (2 if len(frame.by_bar) > 2 else 1)
        self._centres: dict[tuple[Arc, int], float] = {}

    def of(self, onsets: tuple[int, ...], outline: Outline) -> tuple[Slot, ...]:
        """One slot for each chosen onset.

        Args:
            onsets: ascending ticks.
            outline: what the line sets out to do.
        """
        places = {tick: i for i, tick in enumerate(onsets)}
        slots: list[Slot] = []
        before: Ground | None = None
        for tick, after in pairwise((*onsets, self._end)):
            ground = self._scene.harmony.at(tick)
            new_chord = before is not None and before is not ground
            mate = places.get(tick - self._period, -1)
            slots.append(self._slot(tick, after, outline, mate, new_chord=new_chord))
            before = ground
        return tuple(slots)

    def _slot(self, tick: int, after: int, outline: Outline, mate: int, *, new_chord: bool) -> Slot:
        spot, ground = self._scene.spots[tick], self._scene.harmony.at(tick)
        centre, figure = self._centre(outline.arc, tick), outline.figure
        root = _nearest(ground.bottom_pc, centre)
        wish = _wish(outline, tick, root, self._scene.head_end, new_chord=new_chord)
        if wish is None and mate < 0:
            wish = Wish(root + figure[spot.offset * len(figure) // self._bar_ticks], _FIGURE_PULL)
        return Slot(
            ground=ground,
            strong=(spot.strong or new_chord) and not (self._guessed and tick in outline.echo),
            heavy=spot.beat or after - tick >= TICKS_PER_BEAT,
            one=spot.offset == 0 or new_chord,
            centre=centre,
            target=wish.pitch if wish else None,
            pull=wish.pull if wish else 0.0,
            mate=-1 if wish else mate,
            tether=_TETHER * abs(self._high),
        )

    def _centre(self, arc: Arc, tick: int) -> float:
        """Where a line of this arc lies at a place."""
        known = self._centres.get((arc, tick))
        if known is None:
            known = _centre(self._low, self._top, arc, tick / self._end)
            known = self._centres[arc, tick] = _leant(known, self._high, self._low, self._top)
        return known


def call_targets(scene: Scene) -> dict[int, int]:
    """The whole call's pitches by tick of the answer, inside the compass."""
    if not scene.melody:
        return {}
    pitches = list(scene.melody.values())
    return dict(zip(scene.melody, _into_range(pitches, *compass(scene.brief)), strict=True))


def _leant(centre: float, high: float, low: int, top: int) -> float:
    """The centre drawn to the lowest or highest part of the compass, as far as the control asks."""
    end = top - _EDGE if high > 0 else low + _EDGE
    return centre + (end - centre) * abs(high)


def _wish(outline: Outline, tick: int, root: int, head_end: int, *, new_chord: bool) -> Wish | None:
    """What a place is drawn to, apart from the figure and from what an earlier bar did there."""
    if tick in outline.echo:
        return Wish(outline.echo[tick], _ECHO_PULL)
    way = outline.way
    if way.motif == "root":
        return Wish(root, way.pull)
    pull = way.pull * (_NEW_CHORD_SHARE if new_chord else 1)
    return _head_wish(tick, outline.targets, pull) if tick < head_end else None


def _head_wish(tick: int, targets: dict[int, int], pull: float) -> Wish | None:
    """What the head wants at `tick`: the call's note there, or weakly the one that still rings."""
    if tick in targets:
        return Wish(targets[tick], pull)
    ringing = [t for t in targets if t < tick]
    return Wish(targets[max(ringing)], pull * _RINGING_SHARE) if ringing else None


def _inverted(pitches: list[int], key: Key) -> list[int]:
    """Mirrored about the first note in steps of the scale (tonal inversion)."""
    ladder = _ladder(key)
    places = [bisect_right(ladder, pitch) - 1 for pitch in pitches]
    return [_rung(ladder, 2 * places[0] - place) for place in places]


def _moved(pitches: list[int], key: Key, harmony: Harmony) -> list[int]:
    """Moved along the scale until the first note is another tone of the chord (sequence)."""
    ladder, tones = _ladder(key), harmony.at(0).tones
    places = [bisect_right(ladder, pitch) - 1 for pitch in pitches]
    shifts = sorted((s for s in range(-6, 7) if s), key=lambda s: (abs(s), s))
    good = [s for s in shifts if _rung(ladder, places[0] + s) % OCTAVE in tones]
    shift = good[0] if good else 2
    return [_rung(ladder, place + shift) for place in places]


def _ladder(key: Key) -> list[int]:
    """All notes of the key, two octaves beyond both ends of the MIDI range."""
    scale = key.pitch_classes
    return [pitch for pitch in range(-24, 152) if pitch % OCTAVE in scale]


def _rung(ladder: list[int], place: int) -> int:
    return ladder[max(0, min(len(ladder) - 1, place))]


def _into_range(pitches: list[int], low: int, high: int) -> list[int]:
    """Moved by whole octaves together towards the centre; a note still outside folds alone."""
    middle = min(low + _CENTRE_ABOVE_LOW, (low + high) // 2)
    shift = round((fmean(pitches) - middle) / OCTAVE) * OCTAVE
    return [_fold(pitch - shift, low, high) for pitch in pitches]


def _fold(pitch: int, low: int, high: int) -> int:
    while pitch < low:
        pitch += OCTAVE
    while pitch > high:
        pitch -= OCTAVE
    return pitch


def _nearest(pitch_class: int, centre: float) -> int:
    near = round(centre)
    return near + (pitch_class - near + 6) % OCTAVE - 6


def _centre(low: int, high: int, arc: Arc, place: float) -> float:
    """Where the line lies at `place` (0 start, 1 end) of its arc."""
    start, middle, end = _ARC_SEMITONES[arc]
    if place < 0.5:
        bend = start + (middle - start) * 2 * place
    else:
        bend = middle + (end - middle) * (2 * place - 1)
    return min(low + _CENTRE_ABOVE_LOW, (low + high) / 2) + bend
