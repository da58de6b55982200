"""Drum grooves: what the bass locks to, and what sound and export play."""

from __future__ import annotations

from typing import Final, NamedTuple

from live.answer.groove import DRUM_KEYS, DRUMS, TRIPLET_TICKS, VELOCITIES, Drum, Groove
from live.answer.groove_table import GROOVES
from live.answer.groove_text import is_written, parse_groove, written
from live.answer.swing import Swing
from live.clock.metre import Metre
from live.theory.errors import FieldError

__all__ = [
    "DRUMS",
    "DRUM_KEYS",
    "GROOVES",
    "VELOCITIES",
    "Drum",
    "Groove",
    "Stroke",
    "check_suits",
    "find_groove",
    "groove_for",
    "hits",
    "strokes",
    "strokes_in",
    "written",
]

_BY_NAME: Final = {groove.name: groove for groove in GROOVES}


class Stroke(NamedTuple):
    """One stroke: onset in ticks, General MIDI percussion key, velocity 1 to 127."""

    onset_ticks: int
    key: int
    velocity: int


def find_groove(text: str) -> Groove:
    """The groove of that name, or the one that is written out as rows of steps (`groove_text`).

    In a name case, spaces and underscores do not matter.
    Raises: FieldError when there is no such groove, or the rows cannot be read.
    """
    if is_written(text):
        return parse_groove(text)
    wanted = "-".join(text.lower().replace("_", " ").replace("-", " ").split())
    groove = _BY_NAME.get(wanted)
    if groove is None:
        raise FieldError("groove", "one of " + ", ".join(_BY_NAME), text)
    return groove


def groove_for(metre: Metre) -> Groove:
    """What is played in `metre` unasked: the first groove written for it, else the two-step."""
    own = (g for g in GROOVES if (g.metre.bar_ticks, g.metre.compound) == _kind(metre))
    return next(own, GROOVES[0])


def check_suits(groove: Groove, metre: Metre) -> Groove:
    """The groove, if it may be asked for in `metre` (`Groove.suits`).

    Raises: FieldError naming the grooves that may.
    """
    if not groove.suits(metre):
        fitting = ", ".join(other.name for other in GROOVES if other.suits(metre))
        got = f"{groove.name} (in {groove.metre})"
        raise FieldError("groove", f"one that fits {metre}: {fitting}", got)
    return groove


def _kind(metre: Metre) -> tuple[int, bool]:
    return metre.bar_ticks, metre.compound


def hits(groove: Groove, bars: int, metre: Metre) -> list[tuple[int, Drum]]:
    """Every drum stroke of `bars` bars as (onset in ticks from the first bar line, drum), sorted.

    Two drums may share an onset. Thread: any; pure.
    """
    return sorted(
        (bar * metre.bar_ticks + onset, drum)
        for bar in range(bars)
        for drum in DRUMS
        for onset in groove.bar_steps(drum, bar, metre.bar_ticks)
    )


def strokes(groove: Groove, bars: int, metre: Metre, swing: Swing | None = None) -> list[Stroke]:
    """The same as keys and velocities, for sound and files; sorted. Thread: any; pure.

    `swing` says where they are played; None = as they are written.
    """
    # The steps of a triplet groove already lie where they are played.
    played = swing.played if swing and groove.step_ticks != TRIPLET_TICKS else int
    return [
        Stroke(played(onset), DRUM_KEYS[drum], VELOCITIES[drum])
        for onset, drum in hits(groove, bars, metre)
    ]


def strokes_in(
    ticks: range, groove: Groove, metre: Metre, swing: Swing, origin: int
) -> list[Stroke]:
    """The strokes of a groove that goes round and round, in a stretch of time; sorted.

    Args:
        ticks: the stretch, in ticks of the song.
        groove: what is played.
        metre: of the song.
        swing: how it is played.
        origin: tick of a bar line that the groove's first bar begins on, before or after.
    Thread: any; pure.
    """
    length = groove.bars * metre.bar_ticks
    around = strokes(groove, groove.bars, metre, swing)
    first = ticks.start - (ticks.start - origin) % length
    return [
        stroke._replace(onset_ticks=start + stroke.onset_ticks)
        for start in range(first, ticks.stop, length)
        for stroke in around
        if start + stroke.onset_ticks in ticks
    ]
