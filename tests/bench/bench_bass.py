"""Bass answers over drums against real bass tracks: 500 calls, three choices each.

Half of the calls are two bars of real bass tracks with the drums of the two bars that follow, half
are tunes (bars of Ryan's) over our grooves, every second with a progression. Each figure stands
beside that of the real answers to the same bass calls, and of real lines laid over other drums.

A line is inside a band when it lies within the 5th to the 95th percentile of real lines
(live/answer/bass_table.py); a feature that it has no occasion for does not count. The bands of
repeats and turns span 0 to 1 over single lines, so that these can only fail by their mean, which
should lie in the band of track means.

Run: python -m tests.bench.bench_bass [--each] [--judge]
--each: also by kind of call; --judge: also the real lines of openttd-openmsx, from which nothing
was learned.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from random import Random
from statistics import fmean, median

import numpy as np

from live.answer.bass_table import LINE_BANDS, TRACK_BANDS
from live.answer.compose import compose
from live.answer.groove_learning import learn_groove
from live.answer.grooves import GROOVES, Groove, Stroke, find_groove, written
from live.clock.metre import Metre
from live.notes.phrase import Brief, Call, PhraseNote
from live.notes.taste import Taste
from live.theory.keys import parse_key
from live.theory.pitch import Spelling
from live.theory.progressions import parse_progression
from tests.study.answer_corpus import exchanges, load
from tests.study.bass_corpus import (
    BAR,
    FEATURES,
    STEP,
    BassPair,
    bass_pairs,
    bass_windows,
    line_features,
)

CALLS = 500
SEED = 4
INSIDE_LIMIT = 90.0
TEMPO_BPM = 172.0
MINOR_CHORDS = ("i VI iv v", "i VII VI v", "i iv VI V", "i:2 VI:2")
MAJOR_CHORDS = ("I V vi IV", "I vi IV V", "I IV:2 V", "vi IV I V")

Steps = frozenset[int]
Row = dict[str, float]


@dataclass(frozen=True)
class Case:
    """A call to answer, the steps of its drums, and the real answer where there is one."""

    brief: Brief
    kicks: Steps
    snares: Steps
    real: tuple[tuple[int, int], ...] | None = None


def bass_cases(count: int, random: Random) -> list[Case]:
    """Calls from real bass tracks, over the groove learned from the drums of the next two bars."""
    pairs = [(pair, _learned(pair)) for pair in bass_pairs("freedoom")]
    pairs = [(pair, groove) for pair, groove in pairs if _plain(groove)]
    found = []
    for seed, (pair, groove) in enumerate(random.sample(pairs, count)):
        track = pair.call.track
        brief = Brief(
            call=Call(pair.call.notes, bars=2),
            key=track.key,
            groove=written(groove),
            seed=seed,
            tempo_bpm=track.tempo_bpm,
        )
        found.append(_case(brief, pair.answer.bass))
    return found


def _learned(pair: BassPair) -> Groove:
    return learn_groove(
        [Stroke(*stroke) for stroke in pair.answer.drums], Metre(), pair.call.track.tempo_bpm
    )


def tune_cases(count: int, random: Random) -> list[Case]:
    """Calls from tunes in 4/4 and 2/2, over the grooves that ship for 4/4."""
    tunes = load("ryansMammoth")
    metres = (Metre(4, 4), Metre(2, 2))
    found = [x for x in exchanges(tunes, range(len(tunes))) if x.first and x.metre in metres]
    grooves = [groove for groove in GROOVES if _plain(groove)]
    cases = []
    for seed, exchange in enumerate(random.sample(found, count)):
        # The tonic's plain spelling: Db major, but C# minor.
        fifths = (exchange.tonic_pc * 7 + 5) % 12 - 5 + (3 if exchange.is_minor else 0)
        tonic = Spelling(fifths if fifths <= 6 + 3 * exchange.is_minor else fifths - 12)
        key = parse_key(f"{tonic.name} {'minor' if exchange.is_minor else 'major'}")
        chords = random.choice(MINOR_CHORDS if exchange.is_minor else MAJOR_CHORDS)
        notes = tuple(PhraseNote(onset, length, p, 90) for onset, length, p in exchange.call)
        brief = Brief(
            call=Call(notes, bars=2),
            key=key,
            progression=parse_progression(chords, key) if seed % 2 else None,
            groove=random.choice(grooves).name,
            seed=seed,
            tempo_bpm=TEMPO_BPM,
        )
        cases.append(_case(brief, None))
    return cases


def _plain(groove: Groove) -> bool:
    """With a kick, in 4/4, on the grid of sixteenths that the features are counted on."""
    return bool(groove.kick) and groove.metre == Metre(4, 4) and groove.step_ticks == STEP


def _case(brief: Brief, real: tuple[tuple[int, int], ...] | None) -> Case:
    groove = find_groove(brief.groove)
    kicks, snares = (
        frozenset(
            bar * BAR // STEP + onset // STEP
            for bar in range(brief.answer_bars)
            for onset in groove.bar_steps(drum, brief.answer_first_bar + bar, BAR)
        )
        for drum in ("kick", "snare")
    )
    return Case(brief, kicks, snares, real)


def bass_of(notes: Iterable[PhraseNote]) -> tuple[tuple[int, int], ...]:
    """(step of sixteenths, pitch) of a line."""
    return tuple((round(note.onset_ticks / STEP), note.pitch) for note in notes)


# --- what must hold of every line -----------------------------------------------------------------


def in_range(brief: Brief, notes: Sequence[PhraseNote]) -> bool:
    """Every note between the lowest and the highest allowed."""
    return all(brief.low <= note.pitch <= brief.high for note in notes)


def in_harmony(brief: Brief, notes: Sequence[PhraseNote]) -> bool:
    """Every note in the key or in the chord that sounds."""
    return all(
        brief.key.contains(note.pitch) or note.pitch % 12 in _tones(brief, note.onset_ticks)
        for note in notes
    )


def closes(brief: Brief, notes: Sequence[PhraseNote]) -> bool:
    """The end comes to rest: a stable degree or the chord's bottom, on a note that is not short.

    Stable are 1, 3 and 5 in the chord that sounds or in the one that follows; not short means that
    there is at least as much room after it as a note has in the median.
    """
    last = notes[-1]
    end = brief.answer_bars * brief.metre.bar_ticks
    stable = {(brief.key.tonic_pc + step) % 12 for step in (0, 3, 4, 7)}
    tones = _tones(brief, last.onset_ticks) | _tones(brief, end)
    bottom = _bottom(brief, last.onset_ticks)
    pitch_class = last.pitch % 12
    steps = [b.onset_ticks - a.onset_ticks for a, b in pairwise(notes)]
    rests = end - last.onset_ticks >= median(steps or [0])
    return rests and ((pitch_class in stable and pitch_class in tones) or pitch_class == bottom)


def opens(brief: Brief, notes: Sequence[PhraseNote]) -> bool:
    """The last note is not the tonic."""
    return notes[-1].pitch % 12 != brief.key.tonic_pc


def _tones(brief: Brief, tick: int) -> frozenset[int]:
    """Pitch classes of the chord at a tick; without a progression the tonic triad, either third."""
    if brief.progression is None:
        return frozenset((brief.key.tonic_pc + step) % 12 for step in (0, 3, 4, 7))
    return brief.progression.chord_at(_bar(brief, tick)).pitch_classes


def _bottom(brief: Brief, tick: int) -> int:
    if brief.progression is None:
        return brief.key.tonic_pc
    chord = brief.progression.chord_at(_bar(brief, tick))
    return chord.root_pc if chord.bass is None else chord.bass.pitch_class


def _bar(brief: Brief, tick: int) -> float:
    return brief.answer_first_bar + tick / brief.metre.bar_ticks


# --- figures --------------------------------------------------------------------------------------


def inside(rows: Sequence[Row], name: str) -> float:
    """Percent of the lines that lie in the band."""
    band = LINE_BANDS[name]
    return 100 * fmean(band.low <= row[name] <= band.high for row in rows if name in row)


def apart(rows: Sequence[Row], others: Sequence[Row], name: str) -> float:
    """Largest distance between the two distribution functions (Kolmogorov and Smirnov), 0 to 1."""
    a, b = (np.sort([row[name] for row in part if name in row]) for part in (rows, others))
    at = np.concatenate([a, b])
    below = (np.searchsorted(part, at, side="right") / len(part) for part in (a, b))
    return float(np.max(np.abs(next(below) - next(below))))


def report(name: str, rows: Sequence[Row], real: Sequence[Row]) -> bool:
    """Print the figures of a set of lines; whether they stay in the bands."""
    print(f"{name}, {len(rows)} lines")
    kept = True
    for feature in FEATURES:
        told = [row[feature] for row in rows if feature in row]
        line, track = LINE_BANDS[feature], TRACK_BANDS[feature]
        share, middle, mean = inside(rows, feature), median(told), fmean(told)
        good = (
            share >= INSIDE_LIMIT
            and line.low <= middle <= line.high
            and track.low <= mean <= track.high
        )
        kept &= good
        print(
            f"  {feature:<12} inside {share:5.1f} % of {line.low:g} to {line.high:g}; "
            f"median {middle:.2f} ({line.middle:.2f}); "
            f"mean {mean:.2f} of {track.low:g} to {track.high:g}; "
            f"apart {apart(rows, real, feature):.2f}{'' if good else '   <- missed'}"
        )
    return kept


def rows_of(lines: Iterable[tuple[tuple[tuple[int, int], ...], Case]]) -> list[Row]:
    """The features of lines over their drums."""
    return [line_features(bass, case.kicks, case.snares) for bass, case in lines]


def main() -> bool:
    """Print the figures; False if a band or one of the laws is missed."""
    random = Random(SEED)
    groups = {
        "bass": bass_cases(CALLS // 2, random),
        "tunes": tune_cases(CALLS - CALLS // 2, random),
    }
    calls = groups["bass"]
    real = rows_of((case.real, case) for case in calls if case.real)
    report("real answers to the bass calls", real, real)
    others = [*calls[1:], calls[0]]
    report(
        "real lines over other drums",
        rows_of((case.real, other) for case, other in zip(calls, others, strict=True) if case.real),
        real,
    )
    if "--judge" in sys.argv:
        windows = bass_windows("openmsx")
        judged = [line_features(w.bass, w.kicks, w.snares) for w in windows]
        report("real lines of other songs", judged, real)
    made = {
        name: [(case, choice.notes) for case in cases for choice in compose(case.brief)]
        for name, cases in groups.items()
    }
    lines = [line for part in made.values() for line in part]
    if "--each" in sys.argv:
        for name, part in made.items():
            report(f"ours to {name}", rows_of((bass_of(n), case) for case, n in part), real)
    kept = report("ours", rows_of((bass_of(notes), case) for case, notes in lines), real)
    kept &= told("in range", [in_range(case.brief, notes) for case, notes in lines])
    kept &= told("in key or chord", [in_harmony(case.brief, notes) for case, notes in lines])
    print(f"ours closed, unasked: {share_of(closes(c.brief, notes) for c, notes in lines):.2f} %")
    for name, closing, law in (("closed", 1.0, closes), ("open", 0.0, opens)):
        briefs = [
            replace(case.brief, taste=Taste(closing=closing))
            for cases in groups.values()
            for case in cases
        ]
        asked = [law(brief, choice.notes) for brief in briefs for choice in compose(brief)]
        kept &= told(f"{name} as asked", asked)
    return kept


def share_of(marks: Iterable[bool]) -> float:
    """Percent that is true."""
    return 100 * fmean(marks)


def told(name: str, marks: Sequence[bool]) -> bool:
    """Print a law that must hold of every line; whether it does."""
    print(f"ours {name}: {share_of(marks):.2f} % (100)")
    return all(marks)


if __name__ == "__main__":
    sys.exit(not main())
