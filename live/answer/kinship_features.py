"""What the kinship critic counts on a call and on an answer to it, two bars each.

Every count is a whole number from 0 to 255, ready to be looked up.
"""

from __future__ import annotations

from collections.abc import Iterable
from operator import eq, sub
from typing import Final

from live.answer.kinship_phrase import STEPS, UNITS, Phrase
from live.answer.kinship_usual import MIDDLE, USUAL, Usual

_HALF: Final = (1 << UNITS // 2) - 1


_FROM: Final = [
    bytes((MIDDLE + step - first) % 256 for step in range(256)) for first in range(max(STEPS) + 1)
]
"""Translates steps into steps from the first of them, MIDDLE for none."""


def _run(one: Iterable[int], two: Iterable[int]) -> int:
    """How many items are the same before the first that differs."""
    count = 0
    for a, b in zip(one, two):  # noqa: B905 -- the shorter one ends it
        if a != b:
            break
        count += 1
    return count


def _figures(phrase: Phrase) -> tuple[Iterable[object], ...]:
    """The four half bars, heard in each of the ways of FIGURES."""
    tune, (one, two) = phrase.tune, phrase.bits
    half = phrase.parts // 2
    halves = [tune[i : i + half] for i in range(0, 4 * half, half)]
    return (
        halves,
        [part.translate(_FROM[part[0]]) for part in halves],
        (one & _HALF, one >> UNITS // 2, two & _HALF, two >> UNITS // 2),
    )


class Heard:
    """A call with all that answers are compared with counted once."""

    def __init__(self, call: Phrase, *, is_minor: bool) -> None:
        self.phrase, self.usual = call, Usual(call, is_minor=is_minor)
        self.holds = [set(figures).__contains__ for figures in _figures(call)]
        self.top, self.bottom = max(call.pitches), min(call.pitches)
        self.sums = sum(call.lines[0]), sum(call.lines[1])


def compare(heard: Heard, answer: Phrase) -> list[int]:
    """All counts on an answer beside its call, in the order of COMPARED."""
    call = heard.phrase
    return [
        *_bar_beside(call, answer, 0),
        *_bar_beside(call, answer, 1),
        *_bars_apart(answer, 0, answer, 1),
        *_taken_up(heard, answer),
        *_lines(heard, answer),
        *style(answer),
        *heard.usual.counts(answer),
    ]


def _bar_beside(call: Phrase, answer: Phrase, bar: int) -> tuple[int, ...]:
    """A bar of the answer beside the same one of the call.

    Returns: parts on the same pitch, parts at one and the same distance in steps, distance in
    quarters of a step, onsets that only one has. Parts are counted in eighths of the bar.
    """
    parts = call.parts
    apart = list(map(sub, answer.tunes[bar], call.tunes[bar]))
    return (
        sum(map(eq, call.lines[bar], answer.lines[bar])) * 8 // parts,
        max(map(apart.count, set(apart))) * 8 // parts,
        min(sum(map(abs, apart)) * 4 // parts, 255),
        (call.bits[bar] ^ answer.bits[bar]).bit_count(),
    )


def _bars_apart(one: Phrase, a: int, two: Phrase, b: int) -> tuple[int, int]:
    """Distance in quarters of a step, and onsets that only one of the two bars has."""
    apart = sum(map(abs, map(sub, two.tunes[b], one.tunes[a])))
    return min(apart * 4 // one.parts, 255), (one.bits[a] ^ two.bits[b]).bit_count()


def _taken_up(heard: Heard, answer: Phrase) -> list[int]:
    """Of each kind of figure: how many of the answer's four the call has."""
    pairs = zip(heard.holds, _figures(answer), strict=True)
    return [sum(map(holds, figures)) for holds, figures in pairs]


def _lines(heard: Heard, answer: Phrase) -> tuple[int, ...]:
    """Head, join, register and notes of both, in the order of LINES."""
    call, p, q = heard.phrase, heard.phrase.pitches, answer.pitches
    parts, (one, two), (early, late) = call.parts, answer.lines, heard.sums
    first, second = sum(one) - early, sum(two) - late
    return (
        _run(p, q),
        MIDDLE + q[0] - p[-1],
        MIDDLE + q[0] - p[0],
        MIDDLE + q[-1] - p[-1],
        MIDDLE + max(q) - heard.top,
        MIDDLE + min(q) - heard.bottom,
        MIDDLE + len(q) - len(p),
        MIDDLE + (first + second) // (2 * parts),
        MIDDLE + first // parts,
        MIDDLE + second // parts,
        expectation(p[-2] if len(p) > 1 else p[-1], p[-1], q[0]),
    )


def expectation(before: int, last: int, here: int) -> int:
    """Pitch reversal of a note after two others, twice its value and 2 more (0 to 7).

    Source: Schellenberg 1997, Music Perception 14:295-318, the reversal factor of the two-factor
    model: -1, 0, 1, 1.5 or 2.5.
    """
    first, then = last - before, here - last
    turns = first * then < 0
    reversal = 0.0
    if abs(first) > 6:
        reversal = 1.0 if turns else -1.0
    if turns and abs(here - before) <= 2:
        reversal += 1.5
    return int(2 * reversal) + 2


def style(phrase: Phrase) -> tuple[int, ...]:
    """Counts on one phrase alone, in the order of STYLE; shares are twelfths of its moves."""
    moves, heights = phrase.moves, phrase.pitches
    many = max(1, len(moves))
    return (
        heights[0],
        heights[-1],
        max(heights),
        (moves.count(1) + moves.count(-1)) * 12 // many,
        min(sum(map(abs, moves)) * 6 // many, 255),
        phrase.lengths.count(2) + phrase.lengths.count(4),
    )


def of_call(call: Phrase, *, is_minor: bool) -> list[int]:
    """Counts on the call that the others are read in the light of, in the order of CALLED."""
    ending = call.lengths[-1]
    return [*style(call), *_bars_apart(call, 0, call, 1), ending, call.parts, int(is_minor)]


_BESIDE: Final = ("same", "sequence", "distance", "rhythm")
FIGURES: Final = ("half bar", "half bar moved", "half bar's rhythm")
LINES: Final = (
    "head", "join", "first to first", "last to last",
    "top to top", "bottom to bottom", "more notes", "register", "first bar's register",
    "second bar's register", "expected join",
)  # fmt: skip
STYLE: Final = ("first", "last", "top", "steps", "size of moves", "triplets")
COMPARED: Final = (
    *(f"{what} 3:1" for what in _BESIDE),
    *(f"{what} 4:2" for what in _BESIDE),
    "distance 4:3",
    "rhythm 4:3",
    *FIGURES,
    *LINES,
    *(f"answer's {what}" for what in STYLE),
    *USUAL,
)
CALLED: Final = (
    *(f"call's {what}" for what in STYLE),
    "distance 2:1", "rhythm 2:1", "call's ending", "parts", "minor",
)  # fmt: skip
