"""How long the composer takes, against sorting ten thousand whole numbers in the same run.

Run: python -m tests.bench.bench_compose
"""

from __future__ import annotations

from collections.abc import Callable
from random import Random
from statistics import median
from time import perf_counter

from live.answer.compose import compose
from live.notes.phrase import Brief
from live.theory.keys import parse_key
from tests.answer.calls import brief, walk

CASES = ((2, 3, 200), (8, 3, 40), (2, 8, 60), (16, 8, 5))
"""(bars of answer, choices, calls)"""

LIMIT_RATIO = 30.0
"""Three choices of two bars may cost this many sorts: about 30 ms where a sort takes 1 ms."""

KEY = parse_key("D minor")


def _ms(work: Callable[[], object]) -> float:
    start = perf_counter()
    work()
    return (perf_counter() - start) * 1000


def _brief(seed: int, bars: int, choices: int) -> Brief:
    played = walk(Random(seed), KEY)
    chords = "i VI iv v" if seed % 2 else None
    return brief(played, "D minor", chords, seed=seed, answer_bars=bars, choices=choices)


def main() -> bool:
    """Print the figures; False if three choices of two bars cost more than the limit."""
    random = Random(1)
    numbers = [random.randrange(1_000_000) for _ in range(10_000)]
    ratios = []
    for bars, choices, count in CASES:
        briefs = [_brief(seed, bars, choices) for seed in range(count)]
        compose(briefs[0])
        sorting, composing = [], []
        for made in briefs:
            sorting.append(_ms(lambda: sorted(numbers)))
            composing.append(_ms(lambda made=made: compose(made)))
        composing.sort()
        ratios.append(median(composing) / median(sorting))
        print(
            f"{choices} choices of {bars} bars: median {median(composing):.1f} ms, "
            f"p99 {composing[int(0.99 * len(composing))]:.1f} ms, "
            f"{ratios[-1]:.1f} times the sort ({median(sorting):.2f} ms)"
        )
    return ratios[0] <= LIMIT_RATIO


if __name__ == "__main__":
    raise SystemExit(0 if main() else 1)
