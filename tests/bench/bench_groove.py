"""Learning a groove from drums that come in: right on played-in patterns, useful on real drums.

Real drums: four bars are heard, the groove learned from them foretells the next four; figures are
the balance of hits and misses (F1) of kick and snare strokes. Beside it: the last bar and the last
two bars repeated, and the shipped groove that fits the four bars best. freedoom was looked at while
the learner was made; openttd-openmsx (--judge) was not.

Played in: each shipped groove for eight bars, with human timing and slips, at 172 BPM.

Run: python -m tests.bench.bench_groove [--judge]
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Sequence
from random import Random
from statistics import median
from time import perf_counter

from live.answer.groove import Drum, Groove
from live.answer.groove_learning import DRUM_OF, learn_groove
from live.answer.grooves import GROOVES, Stroke, strokes
from live.clock.metre import Metre
from live.clock.units import ns_to_ticks
from tests.study.package_music import drum_songs

BAR, STEP = 3840, 240
HEARD = 4
LEAST_STROKES = 8
"""Four bars with fewer kicks and snares are left out, as are those that the next four leave."""

TEMPO_BPM = 172.0
JITTERS_MS = (5, 10, 15, 20)
SLIP = 0.05
"""Share of strokes that are left out, and as many struck besides."""

Frame = frozenset[tuple[Drum, int]]
"""Kicks and snares of four bars: (drum, step)."""


def frame(played: Iterable[Stroke]) -> Frame:
    """Kicks and snares on the nearest sixteenth."""
    return frozenset(
        (DRUM_OF[key], (onset + STEP // 2) // STEP)
        for onset, key, _ in played
        if DRUM_OF.get(key) in ("kick", "snare")
    )


def of_groove(groove: Groove) -> Frame:
    """What a groove foretells for four bars."""
    return frame(strokes(groove, HEARD, Metre()))


def repeated(heard: Frame, bars: int) -> Frame:
    """The last bars of what was heard, again and again."""
    first, length = (HEARD - bars) * 16, bars * 16
    last = [(drum, step - first) for drum, step in heard if step >= first]
    return frozenset((d, s + at) for d, s in last for at in range(0, HEARD * 16, length))


def best_shipped(heard: Frame) -> Frame:
    """The shipped groove that differs least from what was heard."""
    return min((of_groove(groove) for groove in GROOVES), key=lambda found: len(found ^ heard))


def passages(source: str) -> list[tuple[float, list[Stroke], list[Stroke]]]:
    """(tempo, four bars, the next four) of every song, by eight bars."""
    found = []
    for song in drum_songs(source):
        bars: dict[int, list[Stroke]] = {}
        for onset, key, velocity in song.strokes:
            number = (onset + STEP // 2) // (HEARD * BAR)
            bars.setdefault(number, []).append(Stroke(onset - number * HEARD * BAR, key, velocity))
        for number in range(0, max(bars), 2):
            heard, then = bars.get(number, []), bars.get(number + 1, [])
            if min(len(frame(heard)), len(frame(then))) >= LEAST_STROKES:
                found.append((song.tempo_bpm, heard, then))
    return found


def f1(pairs: Sequence[tuple[Frame, Frame]]) -> float:
    """Percent: twice the hits over strokes foretold and strokes played."""
    hits = sum(len(said & played) for said, played in pairs)
    return 200 * hits / sum(len(said) + len(played) for said, played in pairs)


def real(source: str) -> bool:
    """The learner beside its baselines."""
    found = passages(source)
    ways: dict[str, Callable[[float, list[Stroke]], Frame]] = {
        "learned": lambda tempo, heard: of_groove(learn_groove(heard, Metre(), tempo)),
        "last bar again": lambda _, heard: repeated(frame(heard), 1),
        "last two bars again": lambda _, heard: repeated(frame(heard), 2),
        "best shipped groove": lambda _, heard: best_shipped(frame(heard)),
    }
    figures = {
        name: f1([(way(tempo, heard), frame(then)) for tempo, heard, then in found])
        for name, way in ways.items()
    }
    cells = ", ".join(f"{name} {figure:.1f} %" for name, figure in figures.items())
    print(f"{source}, {len(found)} times four bars then four: {cells}")
    return figures["learned"] >= max(figures.values())


def human(groove: Groove, jitter_ms: float, random: Random) -> list[Stroke]:
    """Eight bars as a hand plays them: late or early, uneven, with slips."""
    jitter = ns_to_ticks(round(jitter_ms * 1e6), TEMPO_BPM)
    played = strokes(groove, 8, groove.metre)
    keys = sorted({stroke.key for stroke in played})
    kept = [stroke for stroke in played if random.random() > SLIP]
    for _ in range(round(SLIP * len(played))):
        step = random.randrange(8 * groove.bar_length)
        kept.append(Stroke(step * groove.step_ticks, random.choice(keys), 70))
    return [
        Stroke(
            stroke.onset_ticks + round(random.gauss(0, jitter)),
            stroke.key,
            max(1, min(127, round(random.gauss(stroke.velocity, 8)))),
        )
        for stroke in kept
    ]


def same(found: Groove, groove: Groove) -> bool:
    """Kick, snare and ghost strokes where they were, for as long as both go round."""
    drums: tuple[Drum, ...] = ("kick", "snare", "ghost")
    return all(
        found.bar_steps(drum, bar, groove.metre.bar_ticks)
        == groove.bar_steps(drum, bar, groove.metre.bar_ticks)
        for drum in drums
        for bar in range(2)
    )


def played_in() -> None:
    """Share of played-in grooves of one or two bars that are learned to the stroke."""
    shipped = [groove for groove in GROOVES if groove.kick and groove.bars <= 2]
    for jitter_ms in JITTERS_MS:
        random = Random(jitter_ms)
        trials = [(groove, human(groove, jitter_ms, random)) for groove in shipped * 20]
        right = [same(learn_groove(p, g.metre, TEMPO_BPM), g) for g, p in trials]
        print(
            f"played in at {TEMPO_BPM:g} BPM, sigma {jitter_ms} ms, {100 * SLIP:g} % slips, "
            f"{len(trials)} times eight bars: {100 * sum(right) / len(right):.1f} % to the stroke"
        )


def speed() -> None:
    """A long song, against sorting its strokes."""
    song = max(drum_songs("freedoom"), key=lambda song: len(song.strokes))
    played = [Stroke(*stroke) for stroke in song.strokes]
    shuffled = Random(1).sample(played, len(played))
    took: dict[str, list[float]] = {"learn": [], "sort": []}
    for _ in range(5):
        for name, work in (
            ("learn", lambda: learn_groove(played)),
            ("sort", lambda: sorted(shuffled)),
        ):
            began = perf_counter()
            work()
            took[name].append((perf_counter() - began) * 1000)
    learn, sort = median(took["learn"]), median(took["sort"])
    print(f"{len(played)} strokes learned in {learn:.1f} ms, sorted in {sort:.2f} ms")


def main() -> bool:
    """Print the figures; False if repeating what was heard foretells more than the learner."""
    kept = real("freedoom")
    if "--judge" in sys.argv:
        kept &= real("openmsx")
    played_in()
    speed()
    return kept


if __name__ == "__main__":
    sys.exit(not main())
