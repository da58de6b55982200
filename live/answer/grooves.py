"""Drum grooves as data: what the bass locks to, and what sound and export play.

Positions are sixteenth-note steps of a 4/4 bar, 0 = the first beat, 4 = the second.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from live.clock.metre import Metre
from live.clock.units import TICKS_PER_SIXTEENTH
from live.theory.errors import FieldError

Drum = Literal["kick", "snare", "hat"]

STEPS_PER_BAR: Final = 16
"""Sixteenths in the 4/4 bar that the patterns are written for."""

DRUM_KEYS: Final[dict[Drum, int]] = {"kick": 36, "snare": 38, "hat": 42}
"""General MIDI Level 1 percussion key map: 36 bass drum 1, 38 acoustic snare, 42 closed hi-hat."""

_EIGHTHS: Final = (0, 2, 4, 6, 8, 10, 12, 14)
_HEIN_2023: Final = "E. Hein, step-by-step analysis of the Amen break, 2023"
_HEIN_2010: Final = "E. Hein, drum pattern tables, 2010 (printed as eighths over two bars, halved)"


@dataclass(frozen=True, slots=True)
class Groove:
    """One drum pattern.

    Args:
        name: trade term, lower case with hyphens.
        kick: sixteenth steps, ascending, each below `steps`.
        snare: likewise.
        hat: likewise (closed hi-hat or ride).
        steps: length, a whole number of 16-step bars.
        source: where the positions come from.
    """

    name: str
    kick: tuple[int, ...]
    snare: tuple[int, ...]
    hat: tuple[int, ...]
    steps: int
    source: str

    def bar_steps(self, drum: Drum, bar: int, bar_ticks: int) -> tuple[int, ...]:
        """Onsets of `drum` in bar `bar` (from 0), in ticks from that bar's line.

        A bar shorter than 4/4 plays the first steps of the pattern's bar, a longer one begins
        the pattern's bar again.
        """
        first = (bar * STEPS_PER_BAR) % self.steps
        hits = [s - first for s in getattr(self, drum) if first <= s < first + STEPS_PER_BAR]
        length = bar_ticks // TICKS_PER_SIXTEENTH
        starts = range(0, length, STEPS_PER_BAR)
        return tuple(
            (start + step) * TICKS_PER_SIXTEENTH
            for start in starts
            for step in hits
            if start + step < length
        )


def _repeated(steps: tuple[int, ...], bars: int) -> tuple[int, ...]:
    return tuple(bar * STEPS_PER_BAR + step for bar in range(bars) for step in steps)


GROOVES: Final[tuple[Groove, ...]] = (
    Groove(
        "two-step",
        kick=(0, 10),
        snare=(4, 12),
        hat=_EIGHTHS,
        steps=16,
        source="kick on 1 and the 'and' of 3, snare on 2 and 4: three teaching pages that agree, "
        "one a lesson at 168-178 BPM; hat on eighths: common practice, no source",
    ),
    Groove(
        "amen-break",
        kick=(0, 2, 10, 11, 16, 18, 26, 27, 32, 34, 42, 50, 51, 58),
        snare=(4, 7, 9, 12, 15, 20, 23, 25, 28, 31, 36, 39, 41, 46, 49, 52, 55, 57, 62),
        hat=_repeated(_EIGHTHS, 4),
        steps=64,
        source=f"{_HEIN_2023}: bars 1-2, 3 and 4, ride on eighths; the quiet stroke on step 9 is "
        "from memory",
    ),
    Groove(
        "half-time",
        kick=(0,),
        snare=(8,),
        hat=_EIGHTHS,
        steps=16,
        source="plain backbeat at half speed, snare on 3 only: common practice, no source",
    ),
    Groove(
        "four-on-the-floor",
        kick=(0, 4, 8, 12),
        snare=(4, 12),
        hat=(2, 6, 10, 14),
        steps=16,
        source=f"{_HEIN_2010}: kick and hat; snare or clap on 2 and 4: common practice, no source",
    ),
    Groove(
        "backbeat",
        kick=(0, 2, 6, 8, 10, 14),
        snare=(4, 12),
        hat=_EIGHTHS,
        steps=16,
        source=f"{_HEIN_2010}: generic rock",
    ),
    Groove(
        "hip-hop",
        kick=(0, 6, 9, 13),
        snare=(4, 12),
        hat=_EIGHTHS,
        steps=16,
        source=f"{_HEIN_2010}: generic hip-hop; hat on eighths: common practice, no source",
    ),
    Groove("none", kick=(), snare=(), hat=(), steps=16, source="no drums"),
)


def find_groove(text: str) -> Groove:
    """The groove of that name; case, spaces and underscores do not matter.

    Raises: FieldError when there is none.
    """
    wanted = "-".join(text.lower().replace("_", " ").replace("-", " ").split())
    for groove in GROOVES:
        if groove.name == wanted:
            return groove
    raise FieldError("groove", "one of " + ", ".join(g.name for g in GROOVES), text)


def hits(groove: Groove, bars: int, metre: Metre) -> list[tuple[int, Drum]]:
    """Every drum stroke of `bars` bars as (onset in ticks from the first bar line, drum), sorted.

    Two drums may share an onset. Thread: any; pure.
    """
    drums: tuple[Drum, ...] = ("kick", "snare", "hat")
    return sorted(
        (bar * metre.bar_ticks + onset, drum)
        for bar in range(bars)
        for drum in drums
        for onset in groove.bar_steps(drum, bar, metre.bar_ticks)
    )
