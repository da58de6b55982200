"""Learns what usually answers what: the weights of live/answer/kinship_usual_table.py.

A linear conditional logit (McFadden 1974) over everything that a pair of call and answer does, with
a ridge that grows with the root of how often a weight is met. It is too sure of items that it
learned from; so wherever trees are grown on what it says, that is cross-fitted by families first.
"""

from __future__ import annotations

import json
from array import array
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from textwrap import wrap

import numpy as np
from scipy.optimize import minimize
from scipy.sparse import csr_matrix

from live.answer.kinship_phrase import UNITS, Phrase
from live.answer.kinship_usual import (
    BARS,
    FAR,
    LONG,
    MIDDLE,
    MOVE,
    OFF,
    ROWS,
    STEPS_HEARD,
    bar_class,
    grid,
    heard_step,
    length_class,
    near,
    place_of,
)

RIDGE, ROUNDS = 20.0, 30
LATER_WEIGHT = 0.5
LEAST_MET = 30
"""Pairs of call and answer in which something is met, for it to be learned."""

TABLE_TEXT = '''"""What usually answers what: log odds in hundredths.

For each kind of row of `kinship_usual`: what in the call a row belongs to, and a weight for each
thing that the answer may do there. A row that is not here holds nothing but 0.
Written by the study; never edited by hand, but for BARS. Source: learned by
tests/study/answer_usual.py from {count} exchanges of two bars and two bars in tunes of Ryan and
Aird that music21 carries.
"""

from __future__ import annotations

# fmt: off
BARS: tuple[tuple[int, ...], ...] = (
{bars})
"""The commonest rhythms of a bar in those tunes: onsets in 48ths."""

WEIGHTS: dict[str, dict[tuple[int, ...], tuple[int, ...]]] = {{
{kinds}}}
# fmt: on
'''

_STEP, _DEGREE, _MOVE = range(STEPS_HEARD), range(7), range(-MOVE, MOVE + 1)
_UNIT, _CLASS, _BAR, _FLAG = range(2 * UNITS), range(12), range(len(BARS) + 1), range(2)
_LENGTH, _PARTS = range(LONG + 1), range(13)
CONTEXTS: dict[str, tuple[range, ...]] = {
    "degree": (_UNIT, _DEGREE), "step": (_STEP,), "apart": (_UNIT,), "along": (_MOVE,),
    "move": (_MOVE, range(24)), "join": (_DEGREE,), "join after move": (range(-OFF, OFF + 1),),
    "first": (_DEGREE, _DEGREE), "first after length": (_LENGTH,), "first on first": (_STEP,),
    "second": (_DEGREE,), "end": (_FLAG, _CLASS), "end on end": (_STEP,),
    "end of both": (_DEGREE, _DEGREE), "last move": (_MOVE,), "end's length": (_PARTS, _LENGTH),
    "top": (_STEP,), "bottom": (_STEP,), "bar": (_FLAG, _FLAG, _BAR), "bars": (_FLAG, _BAR),
    "onset": (_PARTS, _UNIT, _FLAG), "onset of both": (_PARTS, _UNIT, _FLAG, _FLAG),
    "class": (_FLAG, _CLASS, _FLAG), "class beside": (_FLAG, _CLASS, _CLASS, _FLAG),
}  # fmt: skip
"""What a row may belong to, by its kind, as `kinship_usual` asks for it."""


def _starts() -> dict[str, int]:
    starts, at = {}, 0
    for name, context in CONTEXTS.items():
        starts[name] = at
        at += int(np.prod([len(part) for part in context])) * ROWS[name][1]
    starts[""] = at
    return starts


_START = _starts()
MANY = _START[""]
_STRIDES = {
    name: [int(np.prod([len(p) for p in context[at + 1 :]])) for at in range(len(context))]
    for name, context in CONTEXTS.items()
}


def _number(name: str, context: Sequence[int], there: int) -> int:
    row = sum(
        (value - part.start) * stride
        for value, part, stride in zip(context, CONTEXTS[name], _STRIDES[name], strict=True)
    )
    return _START[name] + row * ROWS[name][1] + there


Met = tuple[str, tuple[int, ...], int]
"""Kind of row, what it belongs to, and which of its weights."""


def met(call: Phrase, answer: Phrase, *, is_minor: bool) -> Iterator[Met]:
    """All weights that add up to the log odds of a pair."""
    yield from _met_in_parts(call, answer)
    yield from _met_at_ends(call, answer, int(is_minor))
    yield from _met_in_rhythm(call, answer)
    known, found = ({p % 12 for p in phrase.pitches} for phrase in (call, answer))
    for one in found:
        yield "class", (is_minor, one, one in known), 0
        for other in range(12):
            yield "class beside", (is_minor, one, other, other in known), 0


def _met_in_parts(call: Phrase, answer: Phrase) -> Iterator[Met]:
    for part, (x, y) in enumerate(zip(call.tune, answer.tune, strict=True)):
        place = place_of(part, call.parts)
        yield "degree", (place, x % 7), y % 7
        yield "step", (heard_step(x),), heard_step(y)
        yield "apart", (place,), near(y - x, FAR) + FAR
        if part:
            a, b = call.tune[part - 1], answer.tune[part - 1]
            here, there = near(x - a, MOVE), near(y - b, MOVE) + MOVE
            yield "along", (here,), (near(b - a, OFF) + OFF) * (2 * MOVE + 1) + there
            yield "move", (here, place % 24), there


def _met_at_ends(call: Phrase, answer: Phrase, minor: int) -> Iterator[Met]:
    (first, *_, last), (head, *_, end) = [(*p.steps[:1], *p.steps) for p in (call, answer)]
    joined = near(head - last, FAR) + FAR
    before = call.moves[-1] if call.moves else 0
    into, out = answer.moves[:1] or [0], answer.moves[-1:] or [0]
    length = length_class(call.lengths[-1])
    yield "join", (last % 7,), joined
    yield "join after move", (near(before, OFF),), joined
    yield "first after length", (length,), joined
    yield "first", (first % 7, last % 7), head % 7
    yield "first on first", (heard_step(first),), heard_step(head)
    yield "second", (last % 7,), head % 7 * (2 * MOVE + 1) + near(into[0], MOVE) + MOVE
    yield "end", (minor, call.pitches[-1] % 12), answer.pitches[-1] % 12
    yield "end on end", (heard_step(last),), heard_step(end)
    yield "end of both", (first % 7, last % 7), end % 7
    yield "last move", (near(before, MOVE),), near(out[0], MOVE) + MOVE
    yield "end's length", (call.parts, length), length_class(answer.lengths[-1])
    yield "top", (heard_step(max(call.steps)),), heard_step(max(answer.steps))
    yield "bottom", (heard_step(min(call.steps)),), heard_step(min(answer.steps))


def _met_in_rhythm(call: Phrase, answer: Phrase) -> Iterator[Met]:
    ours, theirs = ([bar_class(bits) for bits in phrase.bits] for phrase in (call, answer))
    for here, there in product((0, 1), (0, 1)):
        yield "bar", (here, int(here != there), ours[here]), theirs[there]
    yield "bars", (int(ours[0] == ours[1]), theirs[0]), theirs[1]
    for unit in grid(call.parts):
        bar, at = divmod(unit, UNITS)
        known = [bits >> at & 1 for bits in call.bits]
        if answer.bits[bar] >> at & 1:
            yield "onset", (call.parts, unit, known[bar]), 0
            yield "onset of both", (call.parts, unit, *known), 0


@dataclass(frozen=True)
class Pairs:
    """All that is met in each pair: a matrix of (items x candidates) rows, a weight a column."""

    met: csr_matrix
    candidates: int

    def of(self, chosen: np.ndarray) -> Pairs:
        """The items that a mask keeps."""
        items = np.flatnonzero(chosen)
        rows = (items[:, None] * self.candidates + np.arange(self.candidates)).ravel()
        return Pairs(self.met[rows], self.candidates)


def read_pairs(pairs: Sequence[tuple[Phrase, Phrase, bool]], candidates: int) -> Pairs:
    """What is met in pairs (call, answer, whether in minor), the candidates of a call in turn."""
    numbers = array("i")
    ends = [0]
    for call, answer, is_minor in pairs:
        numbers.extend(_number(*one) for one in met(call, answer, is_minor=is_minor))
        ends.append(len(numbers))
    ones = np.ones(len(numbers), dtype=np.float32)
    columns = np.frombuffer(numbers, dtype=np.int32)
    return Pairs(csr_matrix((ones, columns, ends), shape=(len(pairs), MANY)), candidates)


def learn_weights(pairs: Pairs, first: np.ndarray) -> np.ndarray:
    """Weights in hundredths, one for each column; 0 for what is met too seldom."""
    times = np.bincount(pairs.met.indices, minlength=MANY)
    often = np.flatnonzero(times >= LEAST_MET)
    scale = (times[often] / times[often].mean()) ** -0.25 / np.sqrt(RIDGE)
    rows = pairs.met[:, often].tocsr()
    columns, share = rows.T.tocsr(), np.where(first, 1.0, LATER_WEIGHT)[:, None]

    def loss(scaled: np.ndarray) -> tuple[float, np.ndarray]:
        weights = scaled * scale
        scores = (rows @ weights.astype(np.float32)).astype(float).reshape(-1, pairs.candidates)
        scores -= scores.max(1, keepdims=True)
        likely = np.exp(scores)
        whole = likely.sum(1, keepdims=True)
        lost = -float((share * (scores[:, :1] - np.log(whole))).sum())
        slope = likely / whole
        slope[:, 0] -= 1
        back = columns @ (slope * share).ravel().astype(np.float32)
        return lost + float(scaled @ scaled) / 2, back.astype(float) * scale + scaled

    start = np.zeros(len(often))
    found = minimize(loss, start, jac=True, method="L-BFGS-B", options={"maxiter": ROUNDS})
    weights = np.zeros(MANY, dtype=int)
    weights[often] = np.round(100 * found.x * scale).astype(int)
    return weights


def counts_of(pairs: Pairs, weights: np.ndarray) -> np.ndarray:
    """The counts of USUAL for each pair, as `Usual.counts` gives them."""
    kinds = np.concatenate(
        [
            np.full(_START[after] - _START[name], ROWS[name][0])
            for name, after in zip(CONTEXTS, [*list(CONTEXTS)[1:], ""], strict=True)
        ]
    )
    odds = [
        np.rint(pairs.met @ np.where(kinds == kind, weights, 0).astype(np.float32)).astype(int)
        for kind in range(kinds.max() + 1)
    ]
    odds.append(sum(odds) // 2)
    found = np.clip(MIDDLE + np.stack(odds, -1) // 5, 0, 255).astype(np.uint8)
    return found.reshape(-1, pairs.candidates, found.shape[-1])


def _rows_of(weights: np.ndarray) -> dict[str, dict[tuple[int, ...], tuple[int, ...]]]:
    """The weights by kind and by what they belong to; rows of nothing but 0 left out."""
    found: dict[str, dict[tuple[int, ...], tuple[int, ...]]] = {}
    for name, context in CONTEXTS.items():
        at, many, found[name] = _START[name], ROWS[name][1], {}
        for number, belongs in enumerate(product(*context)):
            row = weights[at + number * many : at + (number + 1) * many]
            if row.any():
                found[name][belongs] = tuple(row.tolist())
    return found


def table_of_weights(weights: np.ndarray, count: int) -> str:
    """The module that holds the weights."""
    kinds = "".join(
        f"    {json.dumps(name)}: {{\n{_said(rows)}    }},\n"
        for name, rows in _rows_of(weights).items()
    )
    bars = "".join(f"    {bar!r},\n" for bar in BARS)
    return TABLE_TEXT.format(count=count, bars=bars, kinds=kinds)


def _said(rows: Mapping[tuple[int, ...], tuple[int, ...]]) -> str:
    lines = []
    for belongs, row in rows.items():
        text = f"{belongs!r}: {row!r},"
        lines += wrap(text, 92, initial_indent=" " * 8, subsequent_indent=" " * 12)
    return "\n".join([*lines, ""])
