"""Are the answers heard as answers, do they pass for real ones, and do the controls do as they say?

Run: python -m tests.bench.bench_answers [--judge]

Without `--judge` on Ryan's and Aird's tunes and the bass tracks of freedoom, which the composer's
tables were learned from; with it on O'Neill's tunes and the openmsx tracks, which nothing was
learned from. "Real" is always the answer that follows the call in the music itself.
"""

from __future__ import annotations

import gc
import sys
import tracemalloc
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import combinations, pairwise
from random import Random
from statistics import fmean, median
from time import process_time

from live.answer.compose import compose
from live.answer.kinship import Kinship
from live.notes.phrase import Brief, Choice, PhraseNote
from live.notes.taste import Taste
from tests.answer.calls import walked_briefs
from tests.bench.linear_judge import RIVALS, counts, rivals_of, train
from tests.bench.two_sample import can_tell, features
from tests.study.voice_fit import Pair, bass_track_pairs, brief_of, tune_pairs

Line = list[tuple[int, int, int]]
TUNES = 700
CALLS = 60
UNDER, IN_KIND = walked_briefs(CALLS, under=True), walked_briefs(CALLS, under=False)
DIAL = (0.0, 0.25, 0.5, 0.75, 1.0)

MOST_AUC = 0.75
COPIED = (0.06, 0.37)
"""Median and 90th percentile of the notes that real two-bar answers repeat in place and pitch."""

LEAST_APART = 0.5


# --- the material ---------------------------------------------------------------------------------


def material(*, judge: bool) -> tuple[list[Pair], list[Pair]]:
    """(tunes, bass lines)."""
    tunes = tune_pairs(("oneills1850",)) if judge else tune_pairs()
    bass = bass_track_pairs("openmsx" if judge else "freedoom")
    tracks = {name: number for number, name in enumerate(sorted({p.name for p in bass}))}
    bass = [replace(pair, family=tracks[pair.name]) for pair in bass]
    return Random(3).sample(tunes, min(TUNES, len(tunes))), bass


def line(choice: Choice) -> Line:
    return [(n.onset_ticks, n.length_ticks, n.pitch) for n in choice.notes]


def answers(pairs: Sequence[Pair]) -> list[tuple[Choice, ...]]:
    return [compose(brief_of(pair, seed=number)) for number, pair in enumerate(pairs)]


def row(pair: Pair, answer: Line) -> list[float]:
    beat = 1440 if pair.metre.compound else 960
    return features(pair.call, answer, pair.key.tonic_pc, pair.metre.bar_ticks, beat)


# --- what is measured -----------------------------------------------------------------------------


def naturalness(name: str, pairs: Sequence[Pair], ours: Sequence[Line]) -> bool:
    """A fresh classifier between real answers and ours."""
    real = [row(pair, sorted(pair.answer)) for pair in pairs]
    made = [row(pair, answer) for pair, answer in zip(pairs, ours, strict=True)]
    found = can_tell(real, made, [pair.family for pair in pairs])
    told = ", ".join(f"{kind} {value:.3f}" for kind, value in found.items())
    print(f"naturalness, {name} ({len(pairs)} calls): AUC {told} (at most {MOST_AUC})")
    return max(found.values()) <= MOST_AUC


def copied(call: Sequence[tuple[int, int, int]], answer: Line) -> float:
    there = {(onset, pitch) for onset, _, pitch in call}
    return fmean((onset, pitch) in there for onset, _, pitch in answer)


def copying(name: str, pairs: Sequence[Pair], ours: Sequence[Line]) -> bool:
    """How much of the call comes back at the same place and pitch."""
    found = {}
    for whose, lines in (("real", [sorted(p.answer) for p in pairs]), ("ours", ours)):
        shares = sorted(copied(p.call, a) for p, a in zip(pairs, lines, strict=True))
        found[whose] = shares[len(shares) // 2], shares[int(0.9 * len(shares))]
    told = "; ".join(f"{whose} median {m:.2f}, p90 {p:.2f}" for whose, (m, p) in found.items())
    print(f"copying, {name}: {told} (band: median {COPIED[0]}, p90 {COPIED[1]})")
    return found["ours"][1] <= COPIED[1]


def relevance(pairs: Sequence[Pair], ours: Sequence[Line], learned_from: Sequence[Pair]) -> bool:
    """Ours, and the real answer, among nine real answers of other tunes."""
    judge = _linear(learned_from)
    kinds = [(pair.metre, pair.key.scale.is_minor) for pair in pairs]
    families, rng = [pair.family for pair in pairs], Random(5)
    firsts: dict[str, list[tuple[bool, bool]]] = {"critic": [], "linear judge": []}
    for number, (pair, answer) in enumerate(zip(pairs, ours, strict=True)):
        others = rivals_of(number, kinds, families, rng)
        if len(others) < RIVALS:
            continue
        heard = Kinship(pair.call, pair.key.tonic_pc, pair.key.scale.is_minor, pair.metre)
        call = _relative(pair.call, pair.key.tonic_pc)
        judges: dict[str, Callable[[Line], float]] = {
            "critic": heard.score,
            "linear judge": lambda a, call=call, pair=pair: judge(
                counts(call, _relative(a, pair.key.tonic_pc), pair.metre.bar_ticks)
            ),
        }
        shifted = [_into_key(pairs[i], pair) for i in others]
        for name, score in judges.items():
            best = max(score(a) for a in shifted)
            firsts[name].append((score(sorted(pair.answer)) > best, score(answer) > best))
    good = True
    for name, found in firsts.items():
        real, made = (fmean(column) for column in zip(*found, strict=True))
        print(
            f"relevance, {name} ({len(found)} calls): first of ten real {real:.3f}, ours {made:.3f}"
        )
        good &= made >= real
    return good


def _linear(pairs: Sequence[Pair]) -> Callable[[list[float]], float]:
    kinds = [(pair.metre, pair.key.scale.is_minor) for pair in pairs]
    families, rng, groups = [pair.family for pair in pairs], Random(6), []
    for number, pair in enumerate(pairs):
        others = rivals_of(number, kinds, families, rng)
        if len(others) == RIVALS:
            call = _relative(pair.call, pair.key.tonic_pc)
            lines = [sorted(pair.answer), *(_into_key(pairs[i], pair) for i in others)]
            groups.append(
                [counts(call, _relative(a, pair.key.tonic_pc), pair.metre.bar_ticks) for a in lines]
            )
    return train(groups)


def _relative(notes: Sequence[tuple[int, int, int]], tonic_pc: int) -> Line:
    return [(onset, length, pitch - tonic_pc) for onset, length, pitch in sorted(notes)]


def _into_key(pair: Pair, other: Pair) -> Line:
    """A pair's answer in another pair's key, by the shorter way."""
    shift = (other.key.tonic_pc - pair.key.tonic_pc + 6) % 12 - 6
    return [(onset, length, pitch + shift) for onset, length, pitch in sorted(pair.answer)]


def apart(one: Sequence[PhraseNote], other: Sequence[PhraseNote]) -> float:
    a, b = ({(n.onset_ticks, n.pitch % 12) for n in notes} for notes in (one, other))
    return 1 - len(a & b) / len(a | b)


def choices(name: str, found: Sequence[tuple[Choice, ...]]) -> bool:
    """How far choices lie apart, against answers to different calls."""
    inside = fmean(apart(a.notes, b.notes) for made in found for a, b in combinations(made, 2))
    between = fmean(apart(a[0].notes, b[0].notes) for a, b in pairwise(found))
    print(f"choices, {name}: apart {inside:.2f}, answers to different calls {between:.2f}")
    return inside >= LEAST_APART * between


# --- the controls ---------------------------------------------------------------------------------


def measured(control: str, made: Brief, choice: Choice) -> float:
    """What a control is to move, counted on the notes."""
    notes = choice.notes
    onsets, end = [n.onset_ticks for n in notes], made.answer_bars * made.metre.bar_ticks
    match control:
        case "contrast":
            there = {(n.onset_ticks, n.pitch % 12) for n in made.call.notes}
            return -fmean((n.onset_ticks, n.pitch % 12) in there for n in notes)
        case "density":
            return float(len(notes))
        case "syncopation":
            return fmean(o % 960 != 0 for o in onsets)
        case "leaps":
            return fmean([abs(b.pitch - a.pitch) for a, b in pairwise(notes)] or [0.0])
        case "closing":
            return float(notes[-1].pitch % 12 == made.key.tonic_pc)
        case "register":
            return fmean(n.pitch for n in notes)
        case "swing":
            return fmean([o % 960 - 480 for o in onsets if 480 <= o % 960 < 720] or [0.0])
        case "length":
            return fmean(
                n.length_ticks / (b - a)
                for n, (a, b) in zip(notes, pairwise([*onsets, end]), strict=True)
            )
        case _:
            raise ValueError(control)


def controls() -> bool:
    """The mean of what each control moves, at five places of its dial."""
    good = True
    for name, made in (("a bass under a call", UNDER), ("in kind", IN_KIND)):
        for control in Taste.__slots__:
            if control in ("walk_up", "octave_double"):
                continue
            means = []
            # One note in each answer tells how it closes, so more answers are needed.
            again = range(8 if control == "closing" else 1)
            seeded = [replace(b, seed=b.seed + 100 * i) for b in made for i in again]
            for value in DIAL:
                turned = [replace(b, taste=Taste(**{control: value})) for b in seeded]
                means.append(fmean(measured(control, b, compose(b)[0]) for b in turned))
            rises = all(a < b for a, b in pairwise(means))
            good &= rises
            told = "  ".join(f"{mean:.3f}" for mean in means)
            print(f"{control}, {name}: {told}{'' if rises else '  does not rise'}")
    return good


# --- speed and memory -----------------------------------------------------------------------------


def speed() -> bool:
    """CPU time of three choices of two bars and of eight, in kind and under, beside a sort.

    As in the composer's process, full collections leave out what was there at the start.
    """
    gc.freeze()
    random = Random(1)
    numbers = [random.randrange(1_000_000) for _ in range(10_000)]
    for name, made in (("under", UNDER), ("in kind", IN_KIND)):
        for bars in (2, 8):
            times, sorts = [], []
            for b in made:
                b = replace(b, choices=3, answer_bars=bars)
                start = process_time()
                sorted(numbers)
                middle = process_time()
                compose(b)
                times.append(process_time() - middle)
                sorts.append(middle - start)
            times.sort()
            print(
                f"speed, {bars} bars {name}: median {1000 * median(times):.1f} ms, p99 "
                f"{1000 * times[int(0.99 * len(times))]:.1f} ms, "
                f"{median(times) / median(sorts):.0f} sorts ({1000 * median(sorts):.2f} ms)"
            )
    gc.unfreeze()
    return True


def growth(phrases: int = 2000) -> bool:
    """Memory held after many phrases against memory held after some.

    The interpreter keeps tuples that nobody holds for later use, at most 2,000 of each length up
    to 20 (CPython 3.11: 5 MB), until a full collection lets them go. They are told apart.
    """
    made = UNDER + IN_KIND
    tracemalloc.start()
    for number in range(phrases // 4):
        compose(replace(made[number % len(made)], seed=number))
    before, _ = _held()
    for number in range(phrases):
        compose(replace(made[number % len(made)], seed=1000 + number))
    after, kept = _held()
    tracemalloc.stop()
    print(
        f"memory: {(after - before) / 1024:+.1f} kB over {phrases} phrases, of {after / 1024:.0f}; "
        f"besides {kept / 1024:.0f} kB kept free"
    )
    return after - before < 512 * 1024


def _held() -> tuple[int, int]:
    """Bytes that are held, and those that only a full collection lets go."""
    traced = tracemalloc.get_traced_memory()[0]
    gc.collect()
    held = tracemalloc.get_traced_memory()[0]
    return held, traced - held


def main() -> bool:
    """Print the figures; False if one misses its mark."""
    judge = "--judge" in sys.argv
    tunes, bass = material(judge=judge)
    good = True
    for name, pairs in (("tunes", tunes), ("bass lines", bass)):
        found = answers(pairs)
        ours = [line(made[0]) for made in found]
        good &= naturalness(name, pairs, ours)
        good &= copying(name, pairs, ours)
        good &= choices(name, found)
        if name == "tunes":
            good &= relevance(pairs, ours, tune_pairs() if judge else tune_pairs()[::2])
    return all([good, controls(), speed(), growth()])


if __name__ == "__main__":
    raise SystemExit(0 if main() else 1)
