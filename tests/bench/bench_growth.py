"""Whether the composer's process grows: ten thousand phrases through it, as the supervisor sends
them, with a vocabulary that is taught one phrase more all the while.

Run: python -m tests.bench.bench_growth [PHRASES]
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from random import Random
from statistics import median
from typing import IO, Any, NamedTuple, cast

from live.answer.grooves import GROOVES
from live.answer.vocabulary import Vocabulary
from live.clock.metre import Metre
from live.daemon.wire import read_frame, write_frame
from live.notes.phrase import Brief, Choice
from live.notes.taste import Taste
from live.theory.keys import Key, parse_key
from tests.answer.calls import brief, walk

PHRASES = 10_000
EVERY = 500
TAUGHT_EVERY = 25
MEMORY_LIMIT_MB = 80.0
GROWTH_LIMIT_MB = 2.0
"""From a quarter of the way to the end. The vocabulary is full (64 phrases) after 1,600, and caches
fill meanwhile; a leak goes on."""
SLOWER_LIMIT = 1.3
"""Time of processor for a phrase, the last tenth to the first."""

KEYS = tuple(parse_key(name) for name in ("D minor", "F# minor", "E phrygian", "Bb major"))
CHORDS = ("i VI iv v", "I V vi IV", None)
GROOVE_NAMES = [groove.name for groove in GROOVES if groove.suits(Metre(4, 4))]


class Sample(NamedTuple):
    """The process after so many phrases: memory in MB, open files, processor time in seconds."""

    phrases: int
    memory_mb: float
    files: int
    cpu_s: float


class Composer:
    """The process and its two pipes."""

    def __init__(self) -> None:
        command = [sys.executable, "-m", "live.daemon.composer_process"]
        self._child = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE)
        self._to = cast("IO[bytes]", self._child.stdin)
        self._back = cast("IO[bytes]", self._child.stdout)

    def teach(self, vocabulary: Vocabulary) -> None:
        write_frame(cast("Any", self._to), ("vocabulary", vocabulary))

    def answer(self, number: int, made: Brief) -> tuple[Choice, ...]:
        """The choices; RuntimeError with what went wrong."""
        write_frame(cast("Any", self._to), ("compose", number, made))
        request, choices, problem = cast("tuple[Any, ...]", read_frame(cast("Any", self._back)))
        if request != number or problem:
            raise RuntimeError(f"phrase {number}: {problem or request}")
        found: tuple[Choice, ...] = choices
        return found

    def sample(self, phrases: int) -> Sample:
        """What the system says of the process now (Linux)."""
        here = Path(f"/proc/{self._child.pid}")
        rows = (here / "status").read_text(encoding="ascii").splitlines()
        memory_kb = next(int(row.split()[1]) for row in rows if row.startswith("VmRSS"))
        ticks = (here / "stat").read_text(encoding="ascii").rpartition(")")[2].split()[11:13]
        cpu_s = sum(int(part) for part in ticks) / 100
        return Sample(phrases, memory_kb / 1024, len(list((here / "fd").iterdir())), cpu_s)

    def close(self) -> None:
        self._to.close()
        self._child.wait(10)


def brief_of(number: int, random: Random) -> Brief:
    """A call from above or in the bass's own range, over any groove, now and then shaped."""
    key: Key = KEYS[number % len(KEYS)]
    played = walk(random, key)
    if number % 2:
        played = tuple(replace(note, pitch=note.pitch - 24) for note in played)
    taste = Taste(density=random.random(), contrast=random.random()) if number % 5 == 0 else Taste()
    chords = CHORDS[number % 3]
    return brief(
        played, key.name, chords, seed=number, groove=random.choice(GROOVE_NAMES), taste=taste
    )


def run(phrases: int) -> list[Sample]:
    """Send the phrases; a sample at the start and after every `EVERY`."""
    random, composer, vocabulary = Random(11), Composer(), Vocabulary()
    samples = []
    for number in range(phrases):
        made = brief_of(number, random)
        choices = composer.answer(number, made)
        if number % TAUGHT_EVERY == 0:
            vocabulary = vocabulary.learn(choices[0].notes, made.key, made.metre)
            composer.teach(vocabulary)
        if (number + 1) % EVERY == 0:
            samples.append(composer.sample(number + 1))
            told = samples[-1]
            print(
                f"  {told.phrases:6} phrases: {told.memory_mb:5.1f} MB, {told.files} files, "
                f"{told.cpu_s:.1f} s of processor",
                flush=True,
            )
    composer.close()
    return samples


def cost_ms(samples: Sequence[Sample]) -> list[float]:
    """Processor time for a phrase between samples, in milliseconds."""
    return [
        1000 * (after.cpu_s - before.cpu_s) / (after.phrases - before.phrases)
        for before, after in pairwise(samples)
    ]


def main() -> bool:
    """Print memory, files and cost; False where the process grew, slowed or is too large."""
    told = [word for word in sys.argv[1:] if word.isdigit()]
    samples = run(int(told[0]) if told else PHRASES)
    settled = samples[max(0, len(samples) // 4 - 1)]
    grown = samples[-1].memory_mb - settled.memory_mb
    cost = cost_ms(samples)
    tenth = max(1, len(cost) // 10)
    first, last = median(cost[:tenth]), median(cost[-tenth:])
    print(
        f"{samples[-1].phrases} phrases: {max(s.memory_mb for s in samples):.1f} MB at most, "
        f"{grown:+.1f} MB since {settled.phrases}; "
        f"files {samples[0].files} to {samples[-1].files}; "
        f"{first:.1f} ms a phrase first, {last:.1f} ms last"
    )
    return (
        max(s.memory_mb for s in samples) < MEMORY_LIMIT_MB
        and grown <= GROWTH_LIMIT_MB
        and samples[-1].files == samples[0].files
        and last <= SLOWER_LIMIT * first
    )


if __name__ == "__main__":
    raise SystemExit(0 if main() else 1)
