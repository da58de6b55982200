"""A drum groove as data: where each stroke falls, in which metre, on which grid."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final, Literal, get_args

from live.clock.metre import Metre
from live.clock.units import TICKS_PER_BEAT, TICKS_PER_SIXTEENTH

Drum = Literal["kick", "snare", "ghost", "hat", "open_hat", "ride", "percussion"]
"""What is struck; a ghost is a quiet stroke on the snare."""

DRUMS: Final[tuple[Drum, ...]] = get_args(Drum)

DRUM_KEYS: Final[dict[Drum, int]] = {
    "kick": 36,
    "snare": 38,
    "ghost": 38,
    "hat": 42,
    "open_hat": 46,
    "ride": 51,
    "percussion": 75,
}
"""General MIDI Level 1 percussion key map: 36 bass drum 1, 38 acoustic snare, 42 closed hi-hat,
46 open hi-hat, 51 ride cymbal 1, 75 claves."""

VELOCITIES: Final[dict[Drum, int]] = {
    "kick": 100,
    "snare": 92,
    "ghost": 36,
    "hat": 46,
    "open_hat": 50,
    "ride": 48,
    "percussion": 60,
}
"""How hard each is struck, 1 to 127; our taste."""

TRIPLET_TICKS: Final = TICKS_PER_BEAT // 3
STRAIGHT: Final = 1.0
TWO_TO_ONE: Final = 2.0
"""First and third of a triplet (common practice: the shuffle). Drummers come near it at medium
tempo (Friberg & Sundstrom 2002, Music Perception 19(3))."""


@dataclass(frozen=True, slots=True)
class Groove:
    """One drum pattern.

    Args:
        name: trade term, lower case with hyphens.
        kick: steps with a stroke, ascending, each below `steps`.
        snare: likewise, the full strokes.
        hat: likewise, the closed hi-hat.
        steps: length, a whole number of bars.
        source: where the positions come from.
        ghost: quiet strokes on the snare.
        open_hat, ride, percussion: likewise.
        metre: what it is written for.
        step_ticks: a step's length: 240 = sixteenths, 320 = eighth-note triplets.
        swing: first of a pair of notes to the second, 1 = straight. The steps themselves stay on
            the grid; `live.answer.swing` says where they are played.
        swung_ticks: which notes those are: 240 = sixteenths, 480 = eighths.
    """

    name: str
    kick: tuple[int, ...]
    snare: tuple[int, ...]
    hat: tuple[int, ...]
    steps: int
    source: str
    ghost: tuple[int, ...] = ()
    open_hat: tuple[int, ...] = ()
    ride: tuple[int, ...] = ()
    percussion: tuple[int, ...] = ()
    metre: Metre = field(default_factory=Metre)
    step_ticks: int = TICKS_PER_SIXTEENTH
    swing: float = STRAIGHT
    swung_ticks: int = TICKS_PER_SIXTEENTH

    @property
    def bar_length(self) -> int:
        """Steps in a bar."""
        return self.metre.bar_ticks // self.step_ticks

    @property
    def bars(self) -> int:
        """Bars until it begins again."""
        return self.steps // self.bar_length

    @property
    def feel(self) -> tuple[float, int]:
        """(first of a pair of notes to the second, which notes: 240 = sixteenths, 480 = eighths).

        Triplets are eighths two to one; in a straight groove it is the eighths that may swing.
        """
        if self.step_ticks == TRIPLET_TICKS:
            return TWO_TO_ONE, 2 * TICKS_PER_SIXTEENTH
        straight = self.swing == STRAIGHT
        return self.swing, 2 * TICKS_PER_SIXTEENTH if straight else self.swung_ticks

    def strokes(self, drum: Drum) -> tuple[int, ...]:
        """The steps of `drum`, ascending."""
        found: tuple[int, ...] = getattr(self, drum)
        return found

    def suits(self, metre: Metre) -> bool:
        """Whether it may be asked for in `metre`.

        In every metre that has its bar's length and its kind of beat (plain or dotted). A 4/4
        pattern serves in any: the bar line cuts it short or lets it begin again.
        """
        if self.metre == Metre(4, 4):
            return True
        return (metre.bar_ticks, metre.compound) == (self.metre.bar_ticks, self.metre.compound)

    def bar_steps(self, drum: Drum, bar: int, bar_ticks: int) -> tuple[int, ...]:
        """Onsets of `drum` in bar `bar` (from 0), in ticks from that bar's line.

        A bar shorter than the pattern's plays the first steps of the pattern's bar, a longer one
        begins the pattern's bar again.
        """
        own = self.metre.bar_ticks
        first = (bar * self.bar_length) % self.steps
        hits = [
            (step - first) * self.step_ticks
            for step in self.strokes(drum)
            if first <= step < first + self.bar_length
        ]
        starts = range(0, bar_ticks, own)
        return tuple(start + hit for start in starts for hit in hits if start + hit < bar_ticks)
