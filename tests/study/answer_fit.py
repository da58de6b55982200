"""Learns what makes an answer belong to its call; writes the two tables of `kinship`.

Run: python -m tests.study.answer_fit [--cross]    (--cross: only prints cross-fitted figures)

Item: the true answer among answers of other tunes, same metre and mode. Model: the small trees of
`answer_trees` over counts, some of which are the log odds of `answer_usual`. Learned from Ryan's
and Aird's tunes only: openings of tunes and, with less weight, of later strains.
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
from live.answer.kinship_usual import USUAL
from tests.study.answer_corpus import (
    DISTRACTORS,
    LEARNED_FROM,
    Exchange,
    exchanges,
    families_of,
)
from tests.study.answer_trees import SEED, Items, Tree, learn, scores_of
from tests.study.answer_usual import (
    Pairs,
    counts_of,
    learn_weights,
    read_pairs,
    table_of_weights,
)
from tests.study.tune_reader import load

STRANGERS = 24
"""Answers of other tunes beside each true one in learning; the first nine judge."""
FOLDS = 5
FOLDER = Path(__file__).resolve().parents[2] / "live/answer"
TABLE, USUAL_TABLE = FOLDER / "kinship_table.py", FOLDER / "kinship_usual_table.py"
_USUAL = slice(COMPARED.index(USUAL[0]), COMPARED.index(USUAL[-1]) + 1)
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


def read_learned_from() -> tuple[Items, Pairs]:
    """All items that may be learned from: their counts, and what is met in their pairs."""
    tunes = [tune for name in LEARNED_FROM for tune in load(name)]
    found = [e for e in exchanges(tunes, families_of(tunes)) if e.first or e.opens]
    rows = choices(found, STRANGERS, SEED)
    pairs = []
    for row in rows:
        one = found[row[0]]
        heard = Kinship(one.call, one.tonic_pc, one.is_minor, one.metre)
        for number in row:
            pairs += [(*p, one.is_minor) for p in heard.phrases(in_key_of(one, found[number]))[:1]]
    return count_items(found, rows), read_pairs(pairs, STRANGERS + 1)


def folds_of(items: Items) -> np.ndarray:
    """Which of FOLDS each item is in, a family in one."""
    families = np.unique(items.family)
    folds = np.random.default_rng(SEED).integers(0, FOLDS, len(families))
    return folds[np.searchsorted(families, items.family)]


def learn_both(items: Items, pairs: Pairs) -> tuple[list[Tree], np.ndarray]:
    """Trees and the weights of what is usual; the trees see an item's log odds cross-fitted."""
    fold, counts = folds_of(items), items.counts.copy()
    for held in range(FOLDS):
        weights = learn_weights(pairs.of(fold != held), items.first[fold != held])
        counts[fold == held, :, _USUAL] = counts_of(pairs.of(fold == held), weights)
    trees = learn(Items(counts, items.family, items.first))
    return trees, learn_weights(pairs, items.first)


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


def cross_fit(items: Items, pairs: Pairs) -> np.ndarray:
    """Scores of the openings of tunes, each by trees that know neither the tune nor a variant."""
    fold, scores = folds_of(items), np.zeros(items.counts.shape[:2])
    for held in range(FOLDS):
        known, judged = fold != held, (fold == held) & items.first
        trees, weights = learn_both(items.of(known), pairs.of(known))
        counts = items.counts[judged]
        counts[:, :, _USUAL] = counts_of(pairs.of(judged), weights)
        scores[judged] = scores_of(trees, counts)
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
    items, pairs = read_learned_from()
    if "--cross" in sys.argv:
        scores = cross_fit(items, pairs)
        print(f"cross-fitted, {len(scores)} tunes: {said(figures(scores))}")
        return
    trees, weights = learn_both(items, pairs)
    TABLE.write_text(table_text(trees, len(items.counts)), encoding="utf-8")
    USUAL_TABLE.write_text(table_of_weights(weights, len(items.counts)), encoding="utf-8")
    print(f"written: {TABLE.name}, {USUAL_TABLE.name}")


if __name__ == "__main__":
    main()
