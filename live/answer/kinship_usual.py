"""What usually answers what: learned log odds, added up for a call and an answer to it.

Each row of weights belongs to something the call does and holds a weight for each thing that the
answer may do there: by how much that is likelier in a true answer than in a stranger's, the other
rows being given (a linear conditional logit). All rows that a call asks for are laid out once, so
that an answer only looks up and adds.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache
from operator import getitem, itemgetter
from typing import Final

from live.answer.kinship_phrase import PHRASE, STEPS, UNITS, Phrase
from live.answer.kinship_usual_table import BARS, WEIGHTS

Rows = Sequence[Sequence[int]]
_Lay = Callable[[Sequence[int]], Sequence[int]]

MIDDLE: Final = 128
"""A count of 0 log odds; one more is 0.05."""

LOWEST_STEP, STEPS_HEARD = 20, 36
"""Steps are heard apart from 20 to 55, two octaves below the tonic at 60 to nearly three above."""
FAR, OFF, MOVE, LONG = 9, 5, 4, 24
"""Most steps apart, steps off before a move, steps of a move, and pairs of units of a length."""

USUAL: Final = (
    "usual degrees", "usual moves", "usual join", "usual rhythm", "usual scale", "usual answer",
)  # fmt: skip

ROWS: Final = {
    "degree": (0, 7), "step": (0, STEPS_HEARD), "apart": (0, 2 * FAR + 1),
    "along": (1, (2 * OFF + 1) * (2 * MOVE + 1)), "move": (1, 2 * MOVE + 1),
    "join": (2, 2 * FAR + 1), "join after move": (2, 2 * FAR + 1), "first": (2, 7),
    "first after length": (2, 2 * FAR + 1), "first on first": (2, STEPS_HEARD),
    "second": (2, 7 * (2 * MOVE + 1)), "end": (2, 12), "end on end": (2, STEPS_HEARD),
    "end of both": (2, 7), "last move": (2, 2 * MOVE + 1), "end's length": (2, LONG + 1),
    "top": (2, STEPS_HEARD), "bottom": (2, STEPS_HEARD),
    "bar": (3, len(BARS) + 1), "bars": (3, len(BARS) + 1), "onset": (3, 1), "onset of both": (3, 1),
    "class": (4, 1), "class beside": (4, 1),
}  # fmt: skip
"""For each kind of row: which of USUAL it adds to, and how many weights it holds."""


def near(value: int, most: int) -> int:
    """The value, held between -most and most."""
    return max(-most, min(most, value))


def heard_step(step: int) -> int:
    """Which of STEPS_HEARD a scale step is."""
    return max(0, min(STEPS_HEARD - 1, step - LOWEST_STEP))


_NOTHING: Final = {name: (0,) * many for name, (_, many) in ROWS.items()}
_ALL_STEPS: Final = max(STEPS) + 1
# What lays a row out, so that steps, distances and moves can be looked up as they are.
_EVERY_DEGREE: Final[_Lay] = itemgetter(*(step % 7 for step in range(_ALL_STEPS)))
_EVERY_STEP: Final[_Lay] = itemgetter(*(heard_step(step) for step in range(_ALL_STEPS)))
_EVERY_DISTANCE: Final[list[_Lay]] = [
    itemgetter(*(near(step - place, FAR) + FAR for step in range(_ALL_STEPS)))
    for place in range(_ALL_STEPS)
]
_EVERY_OFFSET: Final[list[Callable[[Rows], Rows]]] = [
    itemgetter(*(near(step - place, OFF) + OFF for step in range(_ALL_STEPS)))
    for place in range(_ALL_STEPS)
]
# Moves down count from the end, as a negative index does.
_EVERY_MOVE: Final[_Lay] = itemgetter(
    *(near(move, MOVE) + MOVE for move in (*range(_ALL_STEPS), *range(1 - _ALL_STEPS, 0)))
)
_OTHER: Final = len(BARS)
CLASS_OF_BAR: Final = {sum(1 << unit for unit in bar): at for at, bar in enumerate(BARS)}
"""Which common rhythm a bar has, by the bits of its onsets."""


def length_class(units: int) -> int:
    """Lengths by pairs of units, up to a bar."""
    return min(units // 2, LONG)


def bar_class(bits: int) -> int:
    """Number of a common rhythm, or one more than the last for all others."""
    return CLASS_OF_BAR.get(bits, _OTHER)


def grid(parts: int) -> range:
    """Units of two bars in which an onset is asked for: sixteenths, or halves of a part."""
    return range(0, 2 * UNITS, 3 if parts % 4 == 0 and parts != 12 else 4)


def _row(name: str, *context: int) -> Sequence[int]:
    return WEIGHTS[name].get(context, _NOTHING[name])


_BARS_ALIKE: Final = [
    [_row("bars", alike, one) for one in range(len(BARS) + 1)] for alike in (0, 1)
]
"""Weights of the second bar's rhythm by whether the call's two are alike, and by the first's."""

_CLASSES: Final = bytes(pitch % 12 for pitch in range(256))


def _total(*lists: Sequence[int]) -> list[int]:
    return [sum(values) for values in zip(*lists, strict=True)]


class Usual:
    """A call with all that may answer it weighed.

    Args:
        call: the two bars.
        is_minor: whether the key's third is minor.
    Thread: any; nothing changes after construction.
    Cost: 0.2 ms, a millisecond for what was never met before; `counts` 0.01 ms.
    """

    def __init__(self, call: Phrase, *, is_minor: bool) -> None:
        minor, parts = int(is_minor), call.parts
        tune, places = call.tune, [place_of(part, parts) for part in range(2 * parts)]
        self._degrees = [_degrees(*at) for at in zip(places, tune, strict=True)]
        self._moves = [
            _moves(place % 24, before, near(step - before, MOVE))
            for place, before, step in zip(places[1:], tune, tune[1:])  # noqa: B905 -- one less
        ]
        first, last, steps = call.steps[0], call.steps[-1], call.steps
        before = near(last - steps[-2], OFF) if len(steps) > 1 else 0
        self._first = _total(
            _EVERY_DISTANCE[last](_row("join", last % 7)),
            _EVERY_DISTANCE[last](_row("join after move", before)),
            _EVERY_DISTANCE[last](_row("first after length", length_class(call.lengths[-1]))),
            _EVERY_DEGREE(_row("first", first % 7, last % 7)),
            _EVERY_STEP(_row("first on first", heard_step(first))),
        )
        self._second = _row("second", last % 7)
        self._end = _total(
            _EVERY_STEP(_row("end on end", heard_step(last))),
            _EVERY_DEGREE(_row("end of both", first % 7, last % 7)),
        )
        self._end_class = _row("end", minor, call.pitches[-1] % 12)
        self._last_move = _EVERY_MOVE(_row("last move", near(before, MOVE)))
        self._length = _row("end's length", parts, length_class(call.lengths[-1]))
        self._top = _EVERY_STEP(_row("top", heard_step(max(steps))))
        self._bottom = _EVERY_STEP(_row("bottom", heard_step(min(steps))))
        one, two = map(bar_class, call.bits)
        self._bars = (
            _total(_row("bar", 0, 0, one), _row("bar", 1, 0, two)),
            _total(_row("bar", 1, 1, two), _row("bar", 0, 1, one)),
        )
        self._like = int(one == two)
        self._onsets = _onsets(call)
        self._classes = _classes(call, minor)

    def counts(self, answer: Phrase) -> list[int]:
        """Log odds by what they are about, in the order of USUAL, the last one of all."""
        tune, steps, last = answer.tune, answer.steps, answer.steps[-1]
        one, two = map(bar_class, answer.bits)
        moves = answer.moves or [0]
        onsets, classes = self._onsets, self._classes
        degrees = sum(map(getitem, self._degrees, tune))
        into = zip(self._moves, tune, tune[1:])  # noqa: B905 -- the last one moves no more
        along = sum([row[a][b - a] for row, a, b in into])
        join = (
            self._first[steps[0]]
            + self._second[steps[0] % 7 * 9 + near(moves[0], MOVE) + MOVE]
            + self._end[last]
            + self._end_class[answer.pitches[-1] % 12]
            + self._last_move[moves[-1]]
            + self._length[length_class(answer.lengths[-1])]
            + self._top[max(steps)]
            + self._bottom[min(steps)]
        )
        rhythm = (
            self._bars[0][one]
            + self._bars[1][two]
            + _BARS_ALIKE[self._like][one][two]
            + sum([onsets[onset] for onset in answer.onsets])
        )
        scale = sum([classes[p] for p in set(answer.pitches.translate(_CLASSES))])
        found = degrees, along, join, rhythm, scale
        return [
            0 if odds < -640 else 255 if odds > 639 else MIDDLE + odds // 5
            for odds in (*found, sum(found) // 2)
        ]


@lru_cache(maxsize=1024)
def _degrees(place: int, step: int) -> Sequence[int]:
    """Weights of each step that the answer may have where the call has this one."""
    return _total(
        _EVERY_DEGREE(_row("degree", place, step % 7)),
        _EVERY_STEP(_row("step", heard_step(step))),
        _EVERY_DISTANCE[step](_row("apart", place)),
    )


@lru_cache(maxsize=1024)
def _moves(place: int, before: int, move: int) -> Rows:
    """Weights of each move where the call makes this one, for each step that it may come from."""
    many = 2 * MOVE + 1
    along, usual = _row("along", move), _row("move", move, place)
    rows = [_EVERY_MOVE(_total(along[at : at + many], usual)) for at in range(0, len(along), many)]
    return _EVERY_OFFSET[before](rows)


def _onsets(call: Phrase) -> list[int]:
    """Weight of an onset in each unit."""
    weights = [0] * PHRASE
    for unit in grid(call.parts):
        known = [bits >> unit % UNITS & 1 for bits in call.bits]
        here = _row("onset", call.parts, unit, known[unit >= UNITS])
        weights[unit] = here[0] + _row("onset of both", call.parts, unit, *known)[0]
    return weights


def _classes(call: Phrase, minor: int) -> list[int]:
    """Weight of each pitch class from the tonic."""
    known = {pitch % 12 for pitch in call.pitches}
    return [
        _row("class", minor, one, int(one in known))[0]
        + sum([_row("class beside", minor, one, x, int(x in known))[0] for x in range(12)])
        for one in range(12)
    ]


def place_of(part: int, parts: int) -> int:
    """Unit of two bars in which a part begins."""
    return part * UNITS // parts
