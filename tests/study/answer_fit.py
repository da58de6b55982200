"""Learns what makes an answer belong to its call and writes live/answer/kinship_table.py.

Run: python -m tests.study.answer_fit [--cross]    (--cross: only prints cross-fitted figures)

Item: the true answer among answers of other tunes, same metre and mode. Model: the small trees of
`answer_trees`. Learned from Ryan's and Aird's tunes only: openings of tunes and, with less weight,
of later strains.
Cross-fitted: an item is judged by trees that saw neither its tune nor a variant of it.
"""

from __future__ import annotations

import sys
from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path
from random import Random

import numpy as np

from live.answer.kinship import Kinship
from live.answer.kinship_features import CALLED, COMPARED
from tests.study.answer_corpus import (
    DISTRACTORS,
    LEARNED_FROM,
    Exchange,
    exchanges,
    families_of,
)
from tests.study.answer_trees import SEED, Items, Tree, learn, scores_of
from tests.study.tune_reader import load

STRANGERS = 24
"""Answers of other tunes beside each true one in learning; the first nine judge."""
FOLDS = 5
TABLE = Path(__file__).resolve().parents[2] / "live/answer/kinship_table.py"
TABLE_TEXT = '''"""Small trees that tell an answer to a call from a stranger's answer.

A row is a tree of depth three: seven questions in the order root, its two children, their four
(which count of COMPARED + CALLED in kinship_features, threshold; above it to the right), log odds
of its eight leaves from left to right, and of a thousand strangers' answers how many end in each.
Written by the study; never edited by hand. Source: learned by tests/study/answer_fit.py from
{count} exchanges of two bars and two bars in tunes of Ryan and Aird that music21 carries.
"""

from __future__ import annotations

# fmt: off
TREES: tuple[
    tuple[tuple[tuple[int, int], ...], tuple[float, ...], tuple[int, ...]], ...
] = (
{rows})
# fmt: on
'''

# --- items ----------------------------------------------------------------------------------------


def choices(found: Sequence[Exchange], strangers: int, seed: int) -> list[list[int]]:
    """For each exchange that has enough others of its kind: itself, then strangers' numbers.

    Strangers stand in the same collection, have the same metre and mode, are from the opening of
    a tune where it is, come from no variant of its tune and differ from its answer.
    """
    rng, kinds = Random(seed), defaultdict(list)
    for number, one in enumerate(found):
        kinds[_kind(one)].append(number)
    rows = []
    for number, one in enumerate(found):
        kind = kinds[_kind(one)]
        others = [
            n for n in kind if found[n].family != one.family and _answer(found[n]) != _answer(one)
        ]
        if len({found[n].family for n in others}) >= DISTRACTORS:
            some = rng.sample(others, min(strangers, len(others)))
            rows.append([number, *some, *rng.choices(others, k=strangers - len(some))])
    return rows


def _kind(one: Exchange) -> tuple[str, str, bool, bool]:
    return one.tune.split("/")[0], str(one.metre), one.is_minor, one.first


def _answer(one: Exchange) -> tuple[tuple[int, int, int], ...]:
    return tuple((onset, length, pitch - one.tonic_pc) for onset, length, pitch in one.answer)


def count_items(found: Sequence[Exchange], rows: Sequence[Sequence[int]]) -> Items:
    """Count all that the critic counts on each choice; strangers are moved to the call's tonic."""
    counts: list[bytes] = []
    for row in rows:
        one = found[row[0]]
        heard = Kinship(one.call, one.tonic_pc, one.is_minor, one.metre)
        answers = [in_key_of(one, found[number]) for number in row]
        counts += [bytes(heard.counts(answer)[0]) for answer in answers]
    grid = np.frombuffer(b"".join(counts), dtype=np.uint8)
    families = np.array([found[row[0]].family for row in rows])
    first = np.array([found[row[0]].first for row in rows])
    shape = len(rows), len(rows[0]), len(COMPARED) + len(CALLED)
    return Items(grid.reshape(shape), families, first)


def in_key_of(one: Exchange, other: Exchange) -> list[tuple[int, int, int]]:
    """Another exchange's answer on the tonic of this one: as far from it as from its own."""
    up = one.tonic_pc - other.tonic_pc
    return [(onset, length, pitch + up) for onset, length, pitch in other.answer]


def read_learned_from() -> Items:
    """All items that may be learned from."""
    tunes = [tune for name in LEARNED_FROM for tune in load(name)]
    found = [e for e in exchanges(tunes, families_of(tunes)) if e.first or e.opens]
    return count_items(found, choices(found, STRANGERS, SEED))


# --- figures --------------------------------------------------------------------------------------


def figures(scores: np.ndarray) -> tuple[float, float, float]:
    """(AUC of all candidates together, mean AUC of each item, percent of first places).

    Candidates are the true answer and the nine after it. A tie is half a win, for the first place
    the share of those that tie.
    """
    true, others = scores[:, :1], scores[:, 1 : DISTRACTORS + 1]
    each = (true > others) + 0.5 * (true == others)
    ranked = np.sort(others.ravel())
    below = np.searchsorted(ranked, true.ravel(), "left")
    below = below + np.searchsorted(ranked, true.ravel(), "right")
    best = others.max(1, keepdims=True)
    firsts = np.where(true > best, 1.0, (true == best) / (1 + (others == true).sum(1)[:, None]))
    return float(below.mean() / 2 / len(ranked)), float(each.mean()), 100 * float(firsts.mean())


def cross_fit(items: Items) -> np.ndarray:
    """Scores of the openings of tunes, each by trees that know neither the tune nor a variant."""
    families = np.unique(items.family)
    folds = np.random.default_rng(SEED).integers(0, FOLDS, len(families))
    fold = folds[np.searchsorted(families, items.family)]
    scores = np.zeros(items.counts.shape[:2])
    for held in range(FOLDS):
        judged = (fold == held) & items.first
        trees = learn(items.of(fold != held))
        scores[judged] = scores_of(trees, items.counts[judged])
        print(f"fold {held}: {said(figures(scores[judged]))}", flush=True)
    return scores[items.first]


def said(found: tuple[float, float, float]) -> str:
    """Figures in words."""
    return f"AUC {found[0]:.4f} (a call {found[1]:.4f}), first place {found[2]:.1f}%"


def table_text(trees: Sequence[Tree], count: int) -> str:
    """The module that holds the trees."""
    rows = "".join(f"    ({q!r},\n    {leaves!r},\n    {n!r}),\n" for q, leaves, n in trees)
    return TABLE_TEXT.format(count=count, rows=rows)


def main() -> None:
    items = read_learned_from()
    if "--cross" in sys.argv:
        scores = cross_fit(items)
        print(f"cross-fitted, {len(scores)} tunes: {said(figures(scores))}")
        return
    TABLE.write_text(table_text(learn(items), len(items.counts)), encoding="utf-8")
    print(f"written: {TABLE.name}")


if __name__ == "__main__":
    main()
