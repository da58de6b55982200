"""How much nearer answers come to a player's kept phrases, and what a candidate costs to score.

Of thirty answers to a call that was never kept, the one that the composer scores best is compared
with the one nearest to the vocabulary: in bits a note (the vocabulary's own measure), and in runs
of two and three notes that stand in the kept phrases, and in others of the same player that nobody
kept (measures of tests/study/players.py). Beside them stand the one nearest to the vocabulary of
another player, and the real answer. Players of freedoom have part in the table of what is usual
(one of some forty tracks); Ryan's tunes have none.

Run: python -m tests.bench.bench_vocabulary
"""

from __future__ import annotations

import sys
import time
from collections import defaultdict
from collections.abc import Callable, Sequence
from random import Random
from statistics import mean, median

from live.answer.usual_table import COUNTS
from live.clock.units import TICKS_PER_BEAT
from live.notes.phrase import PhraseNote
from tests.study.players import (
    Player,
    Turn,
    bass_players,
    candidates,
    nearness,
    tune_players,
    vocabulary_of,
)
from tests.study.vocabulary_fit import count, different_windows, view_of

KEPT = (4, 8, 16)
CALLS = 3
LEAST_TURNS = {"tunes": max(KEPT) + 8, "bass": min(KEPT) + CALLS}
LIMIT_RATIO = 0.9
"""A candidate may cost so many sorts: 50 us where a sort takes 55 us, as on an idle machine."""
ROUNDS = 5
NUMBERS = Random(1).choices(range(10**6), k=1000)

Line = Sequence[PhraseNote]
Met = tuple[Player, Turn, list[Line]]
"""A player, a call, and the composer's answers to it, the one it ranks first in front."""


def meet(players: Sequence[Player]) -> list[Met]:
    """Let the composer answer the last calls of each player."""
    return [
        (player, turn, [choice.notes for choice in candidates(player, turn)])
        for player in players
        for turn in player.turns[-CALLS:]
    ]


def compare(met: Sequence[Met], kept: int) -> dict[str, list[float]]:
    """For (plain, near, stranger's, real) answers: each measure, averaged over the calls."""
    found: dict[str, list[tuple[float, ...]]] = defaultdict(list)
    for number, (player, turn, lines) in enumerate(met):
        stranger = met[(number + len(met) // 2) % len(met)][0]
        ear, other_ear = (
            vocabulary_of(one, kept).ear(player.key, player.metre) for one in (player, stranger)
        )
        four = (lines[0], min(lines, key=ear.score), min(lines, key=other_ear.score), turn.answer)
        found["bits a note"].append(tuple(ear.score(line) for line in four))
        found["copied, quarters"].append(
            tuple(ear.longest_copy_ticks(line) / TICKS_PER_BEAT for line in four)
        )
        answers = [other.answer for other in player.turns[:-CALLS]]
        for said, phrases in (("kept", answers[:kept]), ("other", answers[kept:])):
            for length in (2, 3):
                near = [nearness(line, phrases, player.key, length) for line in four]
                for side in near[0]:
                    if phrases:
                        name = f"{side}, runs of {length} in {said} phrases"
                        found[name].append(tuple(one[side] for one in near))
    return {
        name: [mean(column) for column in zip(*rows, strict=True)] for name, rows in found.items()
    }


def closer(kind: str, everyone: Sequence[Met]) -> bool:
    """Print the comparison; False unless bits and runs of two say nearer for every number kept."""
    good = True
    for kept in KEPT:
        met = [one for one in everyone if len(one[0].turns) >= kept + CALLS]
        if not met:
            continue
        print(
            f"{kind}, {kept} kept, {len(met)} calls: composer's best / nearest to the vocabulary / "
            "nearest to another's / the real answer"
        )
        for name, (plain, near, strange, real) in compare(met, kept).items():
            print(f"  {name}: {plain:.3f} / {near:.3f} / {strange:.3f} / {real:.3f}")
            if name == "bits a note":
                good = good and near < plain
            elif "runs of 2 in kept" in name:
                good = good and near > plain
    return good


def us_each(work: Callable[[Line], object], lines: Sequence[Line]) -> float:
    """Processor microseconds a line, once."""
    began_ns = time.process_time_ns()
    for line in lines:
        work(line)
    return (time.process_time_ns() - began_ns) / 1000 / len(lines)


def costs(met: Sequence[Met]) -> bool:
    """Print what a candidate of two bars costs, medians over players; False above the limit."""
    rows = []
    for turns in (met[at : at + CALLS] for at in range(0, len(met), CALLS)):
        player, _, first = turns[0]
        _, _, then = turns[1]
        began_ns = time.process_time_ns()
        kept = min(max(KEPT), len(player.turns) - CALLS)
        ear = vocabulary_of(player, kept).ear(player.key, player.metre)
        learned_ms = (time.process_time_ns() - began_ns) / 1e6
        new_us = us_each(ear.score, first)
        next_us = us_each(ear.score, then)
        sort_us = min(us_each(lambda _: sorted(NUMBERS), then) for _ in range(ROUNDS))
        copies_us = min(us_each(ear.longest_copy_ticks, then) for _ in range(ROUNDS))
        notes = mean(len(line) for line in then)
        rows.append((kept, learned_ms, notes, new_us, next_us, copies_us, sort_us))
    kept, learned_ms, notes, new_us, next_us, copies_us, sort_us = (
        median(column) for column in zip(*rows, strict=True)
    )
    print(
        f"{kept:.0f} phrases learned in {learned_ms:.1f} ms; a candidate of {notes:.1f} notes: "
        f"{next_us:.1f} us, {next_us / sort_us:.2f} sorts (<= {LIMIT_RATIO}), {new_us:.1f} us at "
        f"the first call after learning, its copies {copies_us:.1f} us; a sort of {len(NUMBERS)} "
        f"numbers {sort_us:.1f} us"
    )
    return next_us <= LIMIT_RATIO * sort_us


def main() -> bool:
    """Print the figures; False if one misses its limit, or if the table is out of date."""
    windows = different_windows()
    good = count([view_of(window) for window in windows]) == COUNTS
    print(f"the table is what the study writes: {'yes' if good else 'no'}")
    for kind, players in (
        ("tunes", tune_players(LEAST_TURNS["tunes"])),
        ("bass", bass_players(LEAST_TURNS["bass"])),
    ):
        met = meet(players)
        good = closer(kind, met) and good
        good = costs(met) and good
    return good


if __name__ == "__main__":
    sys.exit(not main())
