"""Grooves written out as rows of steps, the way drummers and drum boxes are written down.

`kick x.........x..... snare ....x..o....x...`: a drum's name, then its row; x is a stroke, a dot
none, o on the snare a ghost stroke; bar lines | are for the eye. Steps are sixteenths. Words may
come first: a metre (`12/8`), `triplets` (steps are thirds of a quarter), `swing 1.5` (first
sixteenth of a pair to the second), `swing 1.5 eighths`.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Final

from live.answer.groove import DRUMS, STRAIGHT, TRIPLET_TICKS, Drum, Groove
from live.clock.metre import Metre, parse_metre
from live.clock.units import TICKS_PER_SIXTEENTH
from live.theory.errors import FieldError

WRITTEN: Final = "written"
"""The name of a groove that has none."""

MAX_BARS: Final = 8
MAX_SWING: Final = 4.0
_ROW: Final = re.compile(r"[xo.|]+")
_METRE: Final = re.compile(r"\d+/\d+")
_WANTED: Final = "a name, or rows such as 'kick x.........x..... snare ....x.......x...'"


def is_written(text: str) -> bool:
    """Whether the text holds a row of steps, so that it is no name."""
    return any(_ROW.fullmatch(word) and {"x", "."} & set(word) for word in text.lower().split())


@lru_cache(maxsize=64)
def parse_groove(text: str) -> Groove:
    """Read a groove that is written out.

    Raises: FieldError naming what is wrong with it.
    Thread: any; pure.
    """
    metre, step_ticks, swing, swung = Metre(), TICKS_PER_SIXTEENTH, STRAIGHT, TICKS_PER_SIXTEENTH
    rows: dict[str, str] = {}
    drum = ""
    words = iter(text.lower().split())
    for word in words:
        if word in DRUMS and word != "ghost" and word not in rows:
            drum = word
            rows[drum] = ""
        elif drum and _ROW.fullmatch(word) and ("o" not in word or drum == "snare"):
            rows[drum] += word.replace("|", "")
        elif not drum and _METRE.fullmatch(word):
            metre = parse_metre(word)
        elif not drum and word == "triplets":
            step_ticks = TRIPLET_TICKS
        elif not drum and word == "swing":
            swing = _swing(next(words, ""))
        elif not drum and word == "eighths":
            swung = 2 * TICKS_PER_SIXTEENTH
        else:
            raise FieldError("groove", _WANTED, word, text)
    return _groove(rows, metre, step_ticks, swing, swung)


def _swing(word: str) -> float:
    try:
        swing = float(word)
    except ValueError:
        swing = 0.0
    if not STRAIGHT <= swing <= MAX_SWING:
        raise FieldError("swing", f"{STRAIGHT:g} (straight) to {MAX_SWING:g}", word)
    return swing


def _groove(
    rows: dict[str, str], metre: Metre, step_ticks: int, swing: float, swung_ticks: int
) -> Groove:
    lengths = {len(row) for row in rows.values()}
    bar, rest = divmod(metre.bar_ticks, step_ticks)
    steps = max(lengths, default=0)
    whole = not rest and steps % bar == 0 and bar <= steps <= MAX_BARS * bar
    if len(lengths) != 1 or not whole:
        wanted = f"rows of one length, 1 to {MAX_BARS} bars of {metre.bar_ticks / step_ticks:g}"
        raise FieldError("groove", f"{wanted} steps in {metre}", sorted(lengths))
    snare = rows.pop("snare", "")
    places = {drum: _places(row, "x") for drum, row in rows.items()}
    return Groove(
        name=WRITTEN,
        kick=places.get("kick", ()),
        snare=_places(snare, "x"),
        hat=places.get("hat", ()),
        steps=steps,
        source="written out by hand",
        ghost=_places(snare, "o"),
        open_hat=places.get("open_hat", ()),
        ride=places.get("ride", ()),
        percussion=places.get("percussion", ()),
        metre=metre,
        step_ticks=step_ticks,
        swing=swing,
        swung_ticks=swung_ticks,
    )


def _places(row: str, sign: str) -> tuple[int, ...]:
    return tuple(step for step, found in enumerate(row) if found == sign)


def written(groove: Groove) -> str:
    """The groove as text that `parse_groove` reads; bars are set apart by a bar line.

    A groove without any stroke is written as a kick that rests.
    """
    words = [] if groove.metre == Metre() else [str(groove.metre)]
    if groove.step_ticks == TRIPLET_TICKS:
        words.append("triplets")
    if groove.swing != STRAIGHT:
        words += ["swing", f"{groove.swing:g}"]
    if groove.swung_ticks != TICKS_PER_SIXTEENTH:
        words.append("eighths")
    for drum in DRUMS:
        if drum != "ghost" and (groove.strokes(drum) or (drum == "snare" and groove.ghost)):
            words += [drum, _row(groove, drum)]
    if not any(groove.strokes(drum) for drum in DRUMS):
        words += ["kick", _row(groove, "kick")]
    return " ".join(words)


def _row(groove: Groove, drum: Drum) -> str:
    signs = ["."] * groove.steps
    for step in groove.strokes(drum):
        signs[step] = "x"
    for step in groove.ghost if drum == "snare" else ():
        signs[step] = "o"
    bar = groove.bar_length
    return "|".join("".join(signs[at : at + bar]) for at in range(0, groove.steps, bar))
