"""The drum grooves that ship, as data.

Positions are steps of sixteenths, 0 = the first beat, 4 = the second.
"""

from __future__ import annotations

from typing import Final

from live.answer.groove import Groove

STEPS_PER_BAR: Final = 16

_EIGHTHS: Final = (0, 2, 4, 6, 8, 10, 12, 14)
_HEIN_2023: Final = "E. Hein, step-by-step analysis of the Amen break, 2023"
_HEIN_2010: Final = "E. Hein, drum pattern tables, 2010 (printed as eighths over two bars, halved)"


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
        snare=(4, 7, 12, 15, 20, 23, 28, 31, 36, 39, 46, 49, 52, 55, 62),
        ghost=(9, 25, 41, 57),
        hat=(),
        ride=_repeated(_EIGHTHS, 4),
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
