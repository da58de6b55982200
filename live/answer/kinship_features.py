"""What the kinship critic counts on a call and on an answer to it, two bars each.

Every count is a whole number from 0 to 255, ready to be looked up. A bar is 48 units long; its
parts, about eighths, are 8 in simple time and as many as the metre has in compound. Pitches are
counted from the tonic: 60 is a tonic, whatever the key.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import combinations, pairwise
from operator import eq, sub
from typing import Final

UNITS: Final = 48
"""Units in a bar: eighths, triplets and sixteenths of the common metres fall on whole ones."""

PHRASE: Final = 2 * UNITS
MIDDLE: Final = 128
"""Stands for 'no difference' in a count that can lie above or below."""

_BAR: Final = (1 << UNITS) - 1
_HALF: Final = (1 << UNITS // 2) - 1
_STEP_OF_PC: Final = (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)
"""Scale step of each semitone above the tonic; flat and sharp thirds, sixths, sevenths alike."""

STEPS: Final = bytes(7 * (p // 12) + _STEP_OF_PC[p % 12] for p in range(128)) + bytes(128)
"""Translates pitches counted from the tonic into scale steps; 35 is the tonic at 60."""

_CLASSES: Final = bytes(p % 12 for p in range(128)) + bytes(128)

_ONE: Final = tuple(bytes((pitch,)) for pitch in range(128))
_BIT: Final = tuple(1 << unit for unit in range(PHRASE))


class Phrase:
    """Two bars of one line, in units, from the tonic.

    Args:
        onsets: ascending units, 0 to 95, no two equal; at least one.
        pitches: one an onset, 0 to 127, 60 is a tonic.
        parts: parts in a bar, a divisor of 48 from 4 to 12.
    """

    __slots__ = (
        "bits", "lengths", "lines", "moves", "parts", "pitches", "places", "signs", "tune", "tunes",
        "turns",
    )  # fmt: skip

    def __init__(self, onsets: Sequence[int], pitches: Sequence[int], parts: int) -> None:
        heights, unit = bytes(pitches), UNITS // parts
        steps = heights.translate(STEPS)
        edges = [(onset + unit - 1) // unit for onset in onsets]
        edges[0] = 0
        edges.append(2 * parts)
        held = map(sub, edges[1:], edges)
        line = b"".join([_ONE[p] * count for p, count in zip(heights, held, strict=True)])
        tune = line.translate(STEPS)
        bits = sum([_BIT[onset] for onset in onsets])
        self.parts, self.pitches = parts, heights
        self.tune = tune
        self.lines, self.tunes = (line[:parts], line[parts:]), (tune[:parts], tune[parts:])
        self.moves = list(map(sub, steps[1:], steps))
        self.lengths = list(map(sub, [*onsets[1:], PHRASE], onsets))
        self.bits = bits & _BAR, bits >> UNITS
        self.places = [onset % UNITS for onset in onsets]
        self.signs = [(b > a) - (b < a) for a, b in pairwise(tune)]
        self.turns = contour(tune[:: 2 if parts % 4 == 0 else 3])


def contour(pitches: Sequence[int]) -> list[int]:
    """Upper triangle of the comparison matrix, row by row: is the later one higher (1, 0, -1).

    Source: Marvin & Laprade 1987, Journal of Music Theory 31:225-267.
    """
    return [(b > a) - (b < a) for a, b in combinations(pitches, 2)]


def _run(one: Iterable[int], two: Iterable[int]) -> int:
    """How many items are the same before the first that differs."""
    count = 0
    for a, b in zip(one, two):  # noqa: B905 -- the shorter one ends it
        if a != b:
            break
        count += 1
    return count


def _figures(phrase: Phrase) -> tuple[tuple[int, Iterable[object]], ...]:
    """(how many, all of them) for each kind of short figure, in the order of FIGURES."""
    p, m, o, d = phrase.pitches, phrase.moves, phrase.places, phrase.lengths
    m1, tune, (one, two) = m[1:], phrase.tune, phrase.bits
    half = phrase.parts // 2
    halves = [tune[i : i + half] for i in range(0, 4 * half, half)]
    pairs, triples, many = len(m), len(m1), len(p)
    # zip ends with its shortest: the last note has no move, the last move no next one.
    return (
        (pairs, zip(o, p, p[1:])),  # noqa: B905
        (triples, zip(o, m, m1)),  # noqa: B905
        (pairs, zip(o, m)),  # noqa: B905
        (many, zip(p, d)),  # noqa: B905
        (4, halves),
        (4, [bytes([MIDDLE + step - part[0] for step in part]) for part in halves]),
        (4, (one & _HALF, one >> UNITS // 2, two & _HALF, two >> UNITS // 2)),
    )


class Heard:
    """A call with all that answers are compared with counted once."""

    def __init__(self, call: Phrase) -> None:
        self.phrase = call
        self.holds = [set(figures).__contains__ for _, figures in _figures(call)]
        self.top, self.bottom = max(call.pitches), min(call.pitches)
        self.sums = sum(call.lines[0]), sum(call.lines[1])


def compare(heard: Heard, answer: Phrase) -> list[int]:
    """All counts on an answer beside its call, in the order of COMPARED."""
    call = heard.phrase
    return [
        *_bar_beside(call, answer, 0),
        *_bar_beside(call, answer, 1),
        *_bars_apart(call, 1, answer, 0),
        *_bars_apart(call, 0, answer, 1),
        *_bars_apart(answer, 0, answer, 1),
        *_taken_up(heard, answer),
        *_lines(heard, answer),
        *style(answer),
    ]


def _bar_beside(call: Phrase, answer: Phrase, bar: int) -> tuple[int, ...]:
    """A bar of the answer beside the same one of the call.

    Returns: parts on the same pitch, parts at one and the same distance in steps, distance in
    quarters of a step, onsets that only one has, parts after which both go the same way. Parts
    are counted in eighths of the bar.
    """
    parts = call.parts
    begin, end = bar * parts, (bar + 1) * parts - 1
    apart = list(map(sub, answer.tunes[bar], call.tunes[bar]))
    return (
        sum(map(eq, call.lines[bar], answer.lines[bar])) * 8 // parts,
        max(map(apart.count, set(apart))) * 8 // parts,
        min(sum(map(abs, apart)) * 4 // parts, 255),
        (call.bits[bar] ^ answer.bits[bar]).bit_count(),
        sum(map(eq, call.signs[begin:end], answer.signs[begin:end])) * 8 // parts,
    )


def _bars_apart(one: Phrase, a: int, two: Phrase, b: int) -> tuple[int, int]:
    """Distance in quarters of a step, and onsets that only one of the two bars has."""
    apart = sum(map(abs, map(sub, two.tunes[b], one.tunes[a])))
    return min(apart * 4 // one.parts, 255), (one.bits[a] ^ two.bits[b]).bit_count()


def _taken_up(heard: Heard, answer: Phrase) -> list[int]:
    """Of each kind of figure: the share that the call has, in twelfths, and how many it lacks."""
    counts: list[int] = []
    for holds, (many, figures) in zip(heard.holds, _figures(answer), strict=True):
        known = sum(map(holds, figures))
        counts += (known * 12 // many if many else 0, many - known)
    return counts


def _lines(heard: Heard, answer: Phrase) -> tuple[int, ...]:
    """Head, join, register and notes of both, in the order of LINES."""
    call, p, q = heard.phrase, heard.phrase.pitches, answer.pitches
    parts, (one, two), (early, late) = call.parts, answer.lines, heard.sums
    first, second = sum(one) - early, sum(two) - late
    return (
        _run(p, q),
        _run(call.moves, answer.moves),
        _run(call.lengths, answer.lengths),
        MIDDLE + q[0] - p[-1],
        MIDDLE + q[0] - p[0],
        MIDDLE + q[-1] - p[-1],
        MIDDLE + max(q) - heard.top,
        MIDDLE + min(q) - heard.bottom,
        MIDDLE + len(q) - len(p),
        MIDDLE + (first + second) // (2 * parts),
        MIDDLE + first // parts,
        MIDDLE + second // parts,
        sum(map(eq, call.turns, answer.turns)) * 28 // len(call.turns),
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


_BESIDE: Final = ("same", "sequence", "distance", "rhythm", "direction")
FIGURES: Final = (
    "pair in place", "turn in place", "move in place", "held pitch", "half bar", "half bar moved",
    "half bar's rhythm",
)  # fmt: skip
LINES: Final = (
    "head", "head's moves", "head's rhythm", "join", "first to first", "last to last",
    "top to top", "bottom to bottom", "more notes", "register", "first bar's register",
    "second bar's register", "contour", "expected join",
)  # fmt: skip
STYLE: Final = ("first", "last", "top", "steps", "size of moves", "triplets")
COMPARED: Final = (
    *(f"{what} 3:1" for what in _BESIDE),
    *(f"{what} 4:2" for what in _BESIDE),
    *(f"{what} {bars}" for bars in ("3:2", "4:1", "4:3") for what in ("distance", "rhythm")),
    *(f"{what}, {how}" for what in FIGURES for how in ("share", "new")),
    *LINES,
    *(f"answer's {what}" for what in STYLE),
)
CALLED: Final = (
    *(f"call's {what}" for what in STYLE),
    "distance 2:1", "rhythm 2:1", "call's ending", "parts", "minor",
)  # fmt: skip
