"""Learns which of many drawn lines passes for a real answer; writes live/answer/natural_table.py.

Run: python -m tests.study.natural_fit   (after tests.study.voice_fit)

For each call of `voice_fit` the composer's own `live.answer.kind` draws as many lines as it does
when it answers. The weights of the counts in `live.answer.manner` are those under which the line
that is chosen has, on the mean of all calls, the counts of the real answers: the likeliest of all
distributions that have them (maximum entropy, Jaynes 1957), with a ridge. What the judge makes of
a line besides is given. Real answers that repeat much of their call count less and those that
repeat little count more, so that the shares they repeat come out as `REPEATED` says. Reads what
`voice_fit` reads.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from random import Random

import numpy as np
from scipy.optimize import minimize
from scipy.sparse import csr_matrix

from live.answer.facts import Facts
from live.answer.judge import POOL, Judge
from live.answer.kind import LEAST_ONSETS, Kind
from live.answer.scene import Scene
from tests.study.voice_fit import Pair, bass_track_pairs, brief_of, tune_pairs

TABLE = Path(__file__).parents[2] / "live/answer/natural_table.py"
LEAST = 12
"""A count that the lines of fewer calls have gets no weight."""

RIDGE = {"TUNES": 6.0, "BASS": 6.0}
REPEATED = {
    "TUNES": ((0.06, 0.37), (0.2, 0.31), (0.37, 0.17), (1.0, 0.15)),
    "BASS": ((0.06, 0.62), (0.2, 0.16), (0.37, 0.12), (1.0, 0.1)),
}
"""What share of answers may repeat how much of the call, in place and pitch: (at most, share)."""


@dataclass(frozen=True)
class Pool:
    """The counts of a call's real answer, those of lines drawn for it, and what is given."""

    real: dict[str, float]
    drawn: list[dict[str, float]]
    given: list[float]


def pools(pairs: Sequence[Pair], size: int = POOL) -> list[Pool]:
    """Lines drawn for each call; none for calls that have no voice."""
    found = []
    for number, pair in enumerate(pairs):
        scene = Scene(brief_of(pair))
        if len(scene.melody) < LEAST_ONSETS:
            continue
        kind = Kind(scene, Random(number))
        line = {onset: pitch for onset, _, pitch in sorted(pair.answer)}
        judge = Judge(kind)
        real = judge.hear(Facts(scene, tuple(line), tuple(line.values()))).counts
        lines = dict.fromkeys(kind.lines(size, Random(number)))
        heard = [judge.hear(Facts(scene, *drawn)) for drawn in lines]
        found.append(Pool(real, [h.counts for h in heard], [h.besides for h in heard]))
    return found


def shares(found: Sequence[Pool], wanted: Sequence[tuple[float, float]]) -> np.ndarray:
    """How much each real answer counts, so that what they repeat comes out as wanted; mean 1."""
    edges = [most for most, _ in wanted]
    places = [bisect_left(edges, pool.real["same as the call"]) for pool in found]
    seen = Counter(places)
    return np.array([wanted[place][1] * len(found) / seen[place] for place in places])


def calibrate(
    found: Sequence[Pool], wanted: Sequence[tuple[float, float]], ridge: float
) -> dict[str, float]:
    """Weights under which what is chosen from the pools has the counts of the real answers."""
    calls: Counter[str] = Counter()
    for pool in found:
        calls.update({name for counts in pool.drawn for name in counts})
    names = sorted(name for name, count in calls.items() if count >= LEAST)
    place = {name: number for number, name in enumerate(names)}
    much = shares(found, wanted)
    real = np.zeros(len(names))
    for pool, share in zip(found, much, strict=True):
        for name, value in pool.real.items():
            if name in place:
                real[place[name]] += share * value
    rows = [counts for pool in found for counts in pool.drawn]
    cells = [(r, place[n], v) for r, row in enumerate(rows) for n, v in row.items() if n in place]
    at, column, value = zip(*cells, strict=True)
    design = csr_matrix((value, (at, column)), shape=(len(rows), len(names)))
    given = np.array([log for pool in found for log in pool.given])
    sizes = np.array([len(pool.drawn) for pool in found])
    weights = _most_even(design, given, sizes, much, real, ridge)
    return {n: round(float(w), 3) for n, w in zip(names, weights, strict=True) if abs(w) >= 0.005}


def _most_even(
    design: csr_matrix,
    given: np.ndarray,
    sizes: np.ndarray,
    much: np.ndarray,
    real: np.ndarray,
    ridge: float,
) -> np.ndarray:
    """The minimum of a convex function whose slope is what is chosen less what is real."""
    first = np.concatenate([[0], np.cumsum(sizes)[:-1]])

    def loss(w: np.ndarray) -> tuple[float, np.ndarray]:
        z = design @ w + given
        top = np.maximum.reduceat(z, first)
        e = np.exp(z - np.repeat(top, sizes))
        total = np.add.reduceat(e, first)
        chosen = e * np.repeat(much / total, sizes)
        value = float(much @ (np.log(total) + top) - real @ w + ridge / 2 * w @ w)
        return value, design.T @ chosen - real + ridge * w

    start = np.zeros(len(real))
    best = minimize(loss, start, jac=True, method="L-BFGS-B", options={"maxiter": 300})
    left = np.abs(loss(best.x)[1] - ridge * best.x) / sizes.size
    print(f"  {len(real)} weights, {sizes.size} calls, a count is off by {left.max():.4f} at most")
    return best.x


def main() -> None:
    """Learn both tables and write them."""
    found = {}
    for name, pairs in (("TUNES", tune_pairs()), ("BASS", bass_track_pairs("freedoom"))):
        print(name)
        found[name] = calibrate(pools(pairs), REPEATED[name], RIDGE[name])
    TABLE.write_text(table_text(found), encoding="utf-8")


def table_text(found: dict[str, dict[str, float]]) -> str:
    """The table as it ships: weights by count, by name."""
    text = [HEAD]
    for name, weights in found.items():
        text.append(f"\n{name}: Final[dict[str, float]] = {{")
        text += [f'    "{count}": {weight},' for count, weight in sorted(weights.items())]
        text.append("}")
    return "\n".join(text) + "\n"


HEAD = '''"""How likely a drawn line is to be a real answer: log odds for the counts of `manner`.

Source: `TUNES` from bars 1 to 4 of Ryan's and Aird's tunes that ship with music21; `BASS` from the
bass tracks of freedoom (BSD-3-Clause). Learned and written by python -m tests.study.natural_fit.
"""

from __future__ import annotations

from typing import Final'''

if __name__ == "__main__":
    main()
