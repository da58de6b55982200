"""Judging lines drawn in kind: how likely each is to be the answer."""

from __future__ import annotations

from math import exp, log1p
from math import log as ln
from random import Random
from typing import Final, NamedTuple

from live.answer.choose import Draft, draw
from live.answer.dials import Line, turn
from live.answer.explain import words
from live.answer.facts import Facts
from live.answer.kind import Kind
from live.answer.kinship import Kinship
from live.answer.manner import manner
from live.answer.natural_table import BASS, TUNES
from live.answer.scene import Scene
from live.answer.taught import familiar, is_copy
from live.answer.ways import claim_of
from live.notes.taste import DIALS

_SURE: Final = 7.0
_KIN: Final = 9.0
"""An answer surely belongs from about these log odds of the critic on, and more of them count no
more; what is missing counts so many times. Set on Ryan's and Aird's tunes."""

_KIN_BASS: Final = 0.6
"""Bass lines go on from their call less plainly than the tunes that the critic has learned from."""

_GIVE_WAY: Final = 0.6
"""How much less all this counts when a control is turned to its end."""

_TAUGHT: Final = 0.25 * ln(2)
"""How much a bit of familiarity counts, in log odds for each note. On players of real bass tracks
with eight phrases kept, twice as much brought the answers no nearer to them."""

_SAME_REACH: Final = 6.0
"""How much the whole call counts, repeated, where an echo or a contrast is wanted most."""

POOL: Final = 30
_LEAST_POOL: Final = 12
_BEATS_BUDGET: Final = 600
"""Lines drawn for an answer of few bars; fewer for a long one, so that it stays affordable."""

_ROUNDS: Final = 3
"""Draw up to this many times while there are fewer different lines than choices."""


def answers_in_kind(scene: Scene, count: int, rng: Random) -> list[Draft]:
    """As many drafts as wanted if there are so many, best score first. Thread: any; pure."""
    kind = Kind(scene, rng)
    judge = Judge(kind)
    pool = max(_LEAST_POOL, min(POOL, _BEATS_BUDGET // len(kind.voice.places)), 5 * count)
    drafts: dict[Line, Draft] = {}
    logs: list[float] = []
    for _ in range(_ROUNDS):
        for line in kind.lines(pool, rng):
            if line not in drafts:
                facts = Facts(scene, *line)
                if is_copy(facts):
                    continue
                log, kin = judge.weigh(facts)
                way = claim_of(facts)
                drafts[line] = Draft(facts, way, words(way, facts), chance(kin))
                logs.append(log)
        if len({draft.words for draft in drafts.values()}) >= count:
            break
    return draw(list(drafts.values()), logs, count, rng)


def chance(log_odds: float) -> float:
    """Log odds as a chance, 0 to 1."""
    return 1 / (1 + exp(-max(-30.0, min(30.0, log_odds))))


class Opinion(NamedTuple):
    """What a judge hears in a line.

    Args:
        counts: from `manner`.
        kin: log odds that it belongs to the call.
        besides: log odds for everything but the counts.
    """

    counts: dict[str, float]
    kin: float
    besides: float


class Judge:
    """Weighs the lines of one scene.

    Args:
        kind: which drew them.
    """

    def __init__(self, kind: Kind) -> None:
        self._voice = voice = kind.voice
        brief = voice.scene.brief
        self._weights = BASS if voice.is_bass else TUNES
        self._much = _KIN_BASS if voice.is_bass else _KIN
        call = [(tick, 1, pitch) for tick, pitch in voice.line.items()]
        self._kin = Kinship(call, brief.key.tonic_pc, voice.minor, brief.metre)
        taste = brief.taste
        self._echo = max(0.0, -turn(taste.contrast))
        self._contrast = max(0.0, turn(taste.contrast)) ** 2
        middles = (d for d in DIALS if d not in ("swing", "length"))
        self._asked = max(abs(turn(getattr(taste, dial))) for dial in middles)

    def hear(self, facts: Facts) -> Opinion:
        """What can be said of a line. Thread: any; pure."""
        counts = manner(self._voice, facts.onsets, facts.pitches)
        kin, same = self._kin.score(notes_of(facts)), counts["same as the call"]
        besides = -(1 - _GIVE_WAY * self._asked) * self._much * log1p(exp(_SURE - kin))
        besides += _SAME_REACH * (self._echo - self._contrast) * same
        besides += _TAUGHT * len(facts.onsets) * familiar(facts)
        return Opinion(counts, kin, besides)

    def weigh(self, facts: Facts) -> tuple[float, float]:
        """(log odds that the line is taken, log odds that it belongs to the call)."""
        heard, get = self.hear(facts), self._weights.get
        natural = sum([get(name, 0.0) * value for name, value in heard.counts.items()])
        return heard.besides + (1 - _GIVE_WAY * self._asked) * natural, heard.kin


def notes_of(facts: Facts) -> list[tuple[int, int, int]]:
    """The line as notes that sound until the next one: (onset, length, pitch)."""
    ends = (*facts.onsets[1:], facts.scene.frame.end)
    return [
        (onset, end - onset, pitch)
        for onset, end, pitch in zip(facts.onsets, ends, facts.pitches, strict=True)
    ]
