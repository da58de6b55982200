"""The critic of a bass under a call from above: named features, each 0 to 1, weighed by hand.

There are two critics because there are pairs of one kind only to learn from. Tunes that answer
tunes are plenty, and answers in kind are weighed by what was learned from them (`kinship`,
`manner`). No open corpus has calls from above with the basses that answer them, so here each
feature has its source, what was counted on basses or on tunes, and a weight set by hand.

"Bass tracks" are 66 tracks with drums (31,973 onsets) in the open packages freedoom and OpenMSX;
"tunes" are 974 folk tunes with a four-bar call and answer that ship with music21.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from live.answer.facts import STEP, Facts
from live.answer.line_moves import OCTAVE


@dataclass(frozen=True, slots=True)
class Feature:
    """One thing the critic listens for.

    Args:
        name: what it is called in tables.
        weight: its part in the score, above 0.
        source: where the wanted value comes from.
        measure: 0 (bad) to 1 (as wanted).
    """

    name: str
    weight: float
    source: str
    measure: Callable[[Facts], float]


KICK_SHARE: Final = 0.71
SNARE_SHARE: Final = 0.22
REPEAT_SHARE: Final = 0.53
LEAP_SHARE: Final = 0.90
BAR_LIKENESS: Final = 0.88
JOIN_SEMITONES: Final = 2


def _kick(facts: Facts) -> float:
    hit, there = facts.kicks
    return min(1.0, hit / there / KICK_SHARE) if there else 1.0


def _snare(facts: Facts) -> float:
    return 1 - min(1.0, facts.on_snare / len(facts.onsets) / (2 * SNARE_SHARE))


def _repeat(facts: Facts) -> float:
    return 1 - abs(facts.repeats - REPEAT_SHARE) / REPEAT_SHARE if facts.moves else 1.0


def _leap(facts: Facts) -> float:
    good, leaps = facts.leaps
    return min(1.0, good / leaps / LEAP_SHARE) if leaps else 1.0


def _bars(facts: Facts) -> float:
    return min(1.0, facts.bar_likeness / BAR_LIKENESS)


def _join(facts: Facts) -> float:
    apart = facts.join or 0
    return 1 - max(0, apart - JOIN_SEMITONES) / (OCTAVE / 2 - JOIN_SEMITONES)


def _close(facts: Facts) -> float:
    tonic, third, fifth = facts.scene.stable_degrees
    last = facts.pitches[-1] % OCTAVE
    return 1.0 if last == tonic else 0.6 if last in (third, fifth) else 0.4


def _landing(facts: Facts) -> float:
    return 1.0 if facts.last_ticks > facts.median_ticks else 0.0


def _arrival(facts: Facts) -> float:
    if not facts.moves:
        return 1.0
    move = abs(facts.moves[-1])
    return 1.0 if 1 <= move <= STEP else 0.8 if move in (5, 7) else 0.4 if move else 0.0


def _chord(facts: Facts) -> float:
    good, beats = facts.beat_tones
    return good / beats if beats else 1.0


def _ones(facts: Facts) -> float:
    good, bars = facts.ones
    return good / bars


def _motion(facts: Facts) -> float:
    return min(1.0, len({pitch % OCTAVE for pitch in facts.pitches}) / 3)


def _kinship(facts: Facts) -> float:
    called = len(facts.scene.melody)
    if not called:
        return 1.0
    together = 2 * facts.called / (len(facts.onsets) + called)
    apart = 1 - facts.called / len(facts.onsets)
    return min(1.0, max(together, apart) / 0.8)


def _head(facts: Facts) -> float:
    return facts.head_same / len(facts.head) if facts.head else 0.5


FEATURES: Final[tuple[Feature, ...]] = (
    Feature("plays on the kick", 1.5, "bass tracks: a note on 71% of kicks", _kick),
    Feature("leaves the snare", 1.0, "bass tracks: 22% of notes on a snare", _snare),
    Feature("repeats its note", 1.2, "bass tracks: 53% of moves are unisons", _repeat),
    Feature("turns after leaps", 0.8, "bass tracks: 68% turn, 22% repeat after a leap", _leap),
    Feature("bars alike", 0.8, "bass tracks: grooving similarity of neighbours 0.88", _bars),
    Feature("small join", 1.2, "tunes: median 2 semitones from call to answer", _join),
    Feature("closes at home", 1.6, "tunes: 80% of answers end on the tonic", _close),
    Feature("long last note", 1.0, "tunes: last note longer than the median in 81%", _landing),
    Feature("steps home", 1.0, "common practice, no source", _arrival),
    Feature("chord on the beat", 1.0, "common practice, no source", _chord),
    Feature("root on one", 0.6, "common practice, no source", _ones),
    Feature("moves", 0.8, "bass tracks: pitch-class entropy 0.82 bits a bar", _motion),
    Feature("kin to the call", 1.0, "tunes: rhythm kept in 77-85% of early bars", _kinship),
    Feature("head comes back", 1.2, "tunes: the first bar returns in 76%", _head),
)

_TOTAL: Final = sum(feature.weight for feature in FEATURES)


def score(facts: Facts) -> float:
    """How good a line is, 0 to 1. Thread: any; pure."""
    return sum([f.weight * max(0.0, f.measure(facts)) for f in FEATURES]) / _TOTAL
