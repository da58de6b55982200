"""A fuzzer that is guided by coverage, from the standard library alone.

An input is a tuple of small whole numbers. It is run under `sys.settrace`; what counts as new is a
pair of lines, one after the other, that was not taken before, or not so often (counted in powers
of two). Inputs that show something new are kept and changed further. An input that breaks a law is
made as short as it can be and returned.
"""

from __future__ import annotations

import random
import sys
import time
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from types import CodeType, FrameType
from typing import Any, NamedTuple

Input = tuple[int, ...]
Feature = tuple[CodeType, int, int, int]
"""(code, line before, line, power of two of how often)."""


class Target(NamedTuple):
    """What is fuzzed.

    Fields:
        check: runs an input; AssertionError or any other exception if a law is broken.
        watched: files whose lines are followed.
        symbols: an input's numbers are below it.
        words: runs of numbers that mean something, for the mutations.
        longest: numbers in an input, at most.
    """

    check: Callable[[Input], None]
    watched: frozenset[str]
    symbols: int
    words: Sequence[Input]
    longest: int


class Broken(NamedTuple):
    """An input that breaks a law, and how."""

    shape: Input
    error: BaseException


def features(target: Target, shape: Input) -> set[Feature]:
    """Run an input; what it shows of the watched files. Raises what the check raises."""
    counts: dict[tuple[CodeType, int, int], int] = {}
    mine: dict[CodeType, bool] = {}

    def enter(frame: FrameType, _event: str, _arg: Any) -> Any:
        code = frame.f_code
        wanted = mine.get(code)
        if wanted is None:
            wanted = mine[code] = code.co_filename in target.watched
        if not wanted:
            return None
        before = 0

        def line(frame: FrameType, event: str, _arg: Any) -> Any:
            nonlocal before
            if event == "line":
                edge = (code, before, frame.f_lineno)
                counts[edge] = counts.get(edge, 0) + 1
                before = frame.f_lineno
            return line

        return line

    former = sys.gettrace()
    sys.settrace(enter)
    try:
        target.check(shape)
    finally:
        sys.settrace(former)
    return {(*edge, count.bit_length()) for edge, count in counts.items()}


class Fuzzer:
    """Keeps what shows something new.

    Args:
        target: what is fuzzed.
        seeds: inputs to begin with.
        rng: chance.
    """

    def __init__(self, target: Target, seeds: Iterable[Input], rng: random.Random) -> None:
        self.target = target
        self.rng = rng
        self.seen: set[Feature] = set()
        self.kept: list[Input] = []
        self.runs = 0
        self.broken: Broken | None = None
        for seed in seeds:
            self._try(seed)

    def run(self, seconds: float) -> Broken | None:
        """Fuzz for a time, or until a law is broken."""
        end_s = time.monotonic() + seconds
        while self.broken is None and time.monotonic() < end_s:
            self.turn()
        return self.broken

    def turn(self) -> None:
        """Try one changed input."""
        self._try(self._changed())

    def _try(self, shape: Input) -> None:
        self.runs += 1
        try:
            shown = features(self.target, shape)
        except Exception as error:  # noqa: BLE001  whatever it is, it is what we look for
            self.broken = Broken(shortened(self.target, shape), error)
            return
        if not shown <= self.seen:
            self.seen |= shown
            self.kept.append(shape)

    def _changed(self) -> Input:
        rng, target = self.rng, self.target
        # Half the time one of the newest: that is where something new was seen.
        pool = self.kept[-32:] if rng.random() < 0.5 else self.kept
        shape = list(rng.choice(pool)) if pool else []
        for _ in range(1 << rng.randrange(4)):
            at = rng.randrange(len(shape) + 1)
            length = rng.choice((1, 1, 2, 3, 4, 8, 16))
            match rng.randrange(7):
                case 0:
                    shape[at : at + 1] = [rng.randrange(target.symbols)]
                case 1:
                    shape[at:at] = [rng.randrange(target.symbols) for _ in range(length)]
                case 2:
                    del shape[at : at + length]
                case 3:
                    shape[at:at] = shape[max(0, at - length) : at] * rng.choice((1, 1, 2, 8))
                case 4:
                    shape[at:at] = rng.choice(target.words)
                case 5:
                    word = rng.choice(target.words)
                    shape[at : at + len(word)] = word
                case 6:
                    other = rng.choice(self.kept) if self.kept else ()
                    begin = rng.randrange(len(other) + 1)
                    shape[at:] = other[begin:]
        return tuple(shape[: target.longest])

    def smallest(self) -> list[Input]:
        """Fewer and shorter inputs that show all that was seen."""
        shown = {shape: features(self.target, shape) for shape in set(self.kept)}
        seen: set[Feature] = set()
        chosen = []
        for shape in sorted(shown, key=lambda shape: (len(shape), shape)):
            if not shown[shape] <= seen:
                seen |= shown[shape]
                chosen.append(shape)
        needed: dict[Feature, int] = {}
        for shape in chosen:
            for one in shown[shape]:
                needed[one] = needed.get(one, 0) + 1
        kept = []
        for shape in sorted(chosen, key=len, reverse=True):  # the later ones may show it all
            if any(needed[one] == 1 for one in shown[shape]):
                kept.append(shape)
            else:
                for one in shown[shape]:
                    needed[one] -= 1
        return sorted(kept, key=lambda shape: (len(shape), shape))


def shortened(target: Target, shape: Input) -> Input:
    """A shorter input that breaks a law too."""

    def breaks(one: Input) -> bool:
        try:
            target.check(one)
        except Exception:  # noqa: BLE001
            return True
        return False

    size = max(1, len(shape) // 2)
    while size:
        at = 0
        while at < len(shape):
            less = shape[:at] + shape[at + size :]
            if breaks(less):
                shape = less
            else:
                at += size
        size //= 2
    return shape


def load(path: Path, read: Callable[[str], Input]) -> list[Input]:
    """Inputs of a corpus file: one a line, `#` begins a comment."""
    lines = path.read_text(encoding="utf-8").splitlines() if path.exists() else []
    return [read(line) for line in lines if not line.startswith("#")]


def main(target: Target, path: Path, read: Callable[[str], Input], write: Callable) -> int:
    """The command line: --minutes N, --seed N, --keep (write the corpus). Returns: exit status."""
    import argparse

    parser = argparse.ArgumentParser(description=f"fuzz, guided by coverage; corpus {path.name}")
    parser.add_argument("--minutes", type=float, default=1.0)
    parser.add_argument("--seed", type=int, default=None, help="of the chance; any number")
    parser.add_argument("--keep", action="store_true", help="write the corpus anew")
    asked = parser.parse_args()
    seed = random.randrange(1 << 30) if asked.seed is None else asked.seed
    fuzzer = Fuzzer(target, load(path, read), random.Random(seed))
    before = len(fuzzer.seen)
    broken = fuzzer.run(asked.minutes * 60)
    print(
        f"seed {seed}: {fuzzer.runs} runs in {asked.minutes:g} min, {len(fuzzer.seen)} features "
        f"({before} at first), {len(fuzzer.kept)} inputs",
        flush=True,
    )
    if broken is not None:
        print(f"BROKEN by: {write(broken.shape)}\n{broken.error!r}", flush=True)
        return 1
    if asked.keep:
        rows = [write(shape) for shape in fuzzer.smallest()]
        head = path.read_text(encoding="utf-8").splitlines() if path.exists() else []
        comments = [line for line in head if line.startswith("#")]
        path.write_text("\n".join([*comments, *rows]) + "\n", encoding="utf-8")
        print(f"{len(rows)} inputs kept in {path.name}", flush=True)
    return 0
