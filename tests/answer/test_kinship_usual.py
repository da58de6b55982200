"""What usually answers what: the quick sums are those of the study's own list, weight by weight."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from random import Random

import pytest

from live.answer import kinship_table, kinship_usual_table
from live.answer.kinship_phrase import Phrase
from live.answer.kinship_usual import BARS, MIDDLE, ROWS, USUAL, Usual
from live.answer.kinship_usual_table import WEIGHTS
from tests.study.answer_usual import CONTEXTS, met


def phrase(seed: int, parts: int, most: int = 20) -> Phrase:
    random = Random(seed)
    onsets = sorted(random.sample(range(96), random.randint(1, most)))
    return Phrase(onsets, [random.randint(20, 110) for _ in onsets], parts)


@pytest.mark.parametrize("parts", [6, 8, 12])
@pytest.mark.parametrize("seed", range(30))
def test_counts_are_the_sums_of_all_weights_met(seed, parts) -> None:
    # Two ways to one sum: rows laid out and looked up, and the list that the weights came from.
    is_minor = bool(seed % 2)
    call, answer = phrase(seed, parts), phrase(seed + 50, parts, 1 + seed % 20)
    odds = [0] * (len(USUAL) - 1)
    for name, context, there in met(call, answer, is_minor=is_minor):
        odds[ROWS[name][0]] += WEIGHTS[name].get(context, (0,) * ROWS[name][1])[there]
    wanted = [max(0, min(255, MIDDLE + sum_ // 5)) for sum_ in (*odds, sum(odds) // 2)]
    assert Usual(call, is_minor=is_minor).counts(answer) == wanted


def test_rows_belong_to_something_that_a_call_can_do() -> None:
    assert set(WEIGHTS) == set(ROWS) == set(CONTEXTS)
    for name, rows in WEIGHTS.items():
        for context, row in rows.items():
            assert len(row) == ROWS[name][1]
            assert any(row)
            pairs = zip(context, CONTEXTS[name], strict=True)
            assert all(value in allowed for value, allowed in pairs)


def test_the_commonest_bars_are_rhythms_and_all_different() -> None:
    assert len(set(BARS)) == len(BARS)
    assert all(a < b for bar in BARS for a, b in pairwise(bar))
    assert all(0 <= unit < 48 for bar in BARS for unit in bar)


def test_both_tables_together_are_small() -> None:
    sizes = [
        Path(module.__file__).stat().st_size for module in (kinship_table, kinship_usual_table)
    ]
    assert sum(sizes) <= 200_000
