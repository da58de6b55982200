"""The critic picks the true answer among ten, on tunes that nothing was learned from.

Call: bars 1 and 2 of a tune after any pickup; answer: bars 3 and 4; strangers: bars 3 and 4 of
nine other tunes of the same metre and mode. Judged on O'Neill's tunes, all and those that are no
variant of a tune learned from; with --slow also cross-fitted on the tunes learned from.

Run: python -m tests.bench.bench_critic [--slow]
"""

from __future__ import annotations

import gc
import sys
from collections.abc import Callable, Sequence
from statistics import median
from time import process_time

import numpy as np

from live.answer.kinship import Kinship
from live.answer.kinship_features import CALLED, COMPARED
from live.answer.kinship_table import TREES
from tests.study.answer_corpus import (
    DISTRACTORS,
    LEARNED_FROM,
    Exchange,
    exchanges,
    families_of,
)
from tests.study.answer_fit import (
    TABLE,
    USUAL_TABLE,
    choices,
    count_items,
    cross_fit,
    figures,
    in_key_of,
    read_learned_from,
    said,
)
from tests.study.answer_trees import Items, scores_of
from tests.study.tune_reader import load

JUDGE = "oneills1850"
SEED = 1850
LEAST_AUC, LEAST_FIRST = 0.945, 80.0
MOST_US, MOST_BYTES = 100.0, 200_000


def judged() -> tuple[list[Exchange], list[list[int]], np.ndarray]:
    """Openings of O'Neill's tunes, their choices, and which are of a family never learned from."""
    known = [tune for name in LEARNED_FROM for tune in load(name)]
    tunes = load(JUDGE)
    families = families_of([*known, *tunes])
    learned = set(families[: len(known)])
    found = [one for one in exchanges(tunes, families[len(known) :]) if one.first]
    rows = choices(found, DISTRACTORS, SEED)
    return found, rows, np.array([found[row[0]].family not in learned for row in rows])


def best_single(items: Items) -> tuple[str, tuple[float, float, float]]:
    """The count that alone does best, with its figures."""
    names, tried = (*COMPARED, *CALLED), []
    for at, name in enumerate(names):
        column = items.counts[:, :, at].astype(float)
        tried += [(figures(sign * column), name) for sign in (1, -1)]
    best, name = max(tried, key=lambda one: one[0][0])
    return name, best


def cost_us(found: Sequence[Exchange], rows: Sequence[Sequence[int]], calls: int = 100) -> float:
    """Median over calls of the processor's microseconds for one of ten candidates.

    Each call is timed several times and its quickest time taken: what else runs only slows it.
    """
    gc.collect()
    gc.freeze()  # what the benchmark itself holds would be gone through with every collection
    spent = []
    for row in rows[:: max(1, len(rows) // calls)]:
        one = found[row[0]]
        heard = Kinship(one.call, one.tonic_pc, one.is_minor, one.metre)
        answers = [in_key_of(one, found[number]) for number in row]
        spent.append(_quickest_us(lambda: [heard.score(a) for a in answers]) / len(answers))  # noqa: B023
    return median(spent)


def _quickest_us(work: Callable[[], object], repeats: int = 40) -> float:
    taken = []
    for _ in range(repeats):
        begin = process_time()
        work()
        taken.append((process_time() - begin) * 1e6)
    return min(taken)


def _sort_us() -> float:
    numbers = np.random.default_rng(1).integers(0, 1_000_000, 1000).tolist()
    return _quickest_us(lambda: sorted(numbers), 200)


def main() -> bool:
    """Print the figures; False where a limit is missed."""
    found, rows, new = judged()
    items = count_items(found, rows)
    scores = scores_of(TREES, items.counts)
    name, single = best_single(items)
    print(f"chance: AUC 0.5, first place {100 / (DISTRACTORS + 1):.0f}%")
    print(f"best single count ({name}): {said(single)}")
    print(f"O'Neill, {len(scores)} tunes: {said(figures(scores))}")
    unseen = figures(scores[new])
    print(f"O'Neill, {new.sum()} tunes no variant of which was learned from: {said(unseen)}")
    if "--slow" in sys.argv:
        fitted = cross_fit(*read_learned_from())
        print(f"Ryan and Aird, cross-fitted, {len(fitted)} tunes: {said(figures(fitted))}")
    cost = cost_us(found, rows)
    size = TABLE.stat().st_size + USUAL_TABLE.stat().st_size
    print(f"a candidate: {cost:.0f} us (sorting 1,000 numbers: {_sort_us():.0f} us)")
    print(f"tables: {size / 1000:.0f} kB, {len(TREES)} trees")
    good = unseen[0] >= LEAST_AUC and unseen[2] >= LEAST_FIRST
    return bool(good and cost <= MOST_US and size <= MOST_BYTES)


if __name__ == "__main__":
    raise SystemExit(0 if main() else 1)
