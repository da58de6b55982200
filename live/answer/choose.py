"""Choosing what is offered: good lines that differ clearly from one another.

There are two choosers, as there are two kinds of marks. Lines under a call from above were searched
for, and `critic` says which is better: `pick` takes the best. Lines in kind were drawn by chance,
and `judge` says how likely each is: `draw` draws again, for always to take the likeliest would make
answers more alike than real ones are.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp
from random import Random
from typing import Final

from live.answer.facts import Facts
from live.answer.ways import Way


@dataclass(frozen=True, slots=True)
class Draft:
    """A finished line with its marks.

    Args:
        facts: the notes and what was counted on them.
        way: what its label claims; None claims nothing.
        words: its two labels.
        score: 0 to 1; the critic's, or in kind the chance that it belongs to the call.
        familiar: how much more it is like what the player kept than like just any line, bits a
            note.
    """

    facts: Facts
    way: Way | None
    words: tuple[str, str]
    score: float
    familiar: float = 0.0


_FAMILIAR_WORTH: Final = 0.05
"""What a bit of familiarity counts; measured on players of real bass tracks."""
_LIKENESS_COST: Final = 0.35
_NO_CLAIM_COST: Final = 0.15
_SAME_WAY_COST: Final = 0.25
_SAME_ENDING_COST: Final = 0.12
_SAME_WORDS_COST: Final = 1.0
"""What a draft costs beside those chosen, on the scale of the critic's score."""

_APART: Final = 0.5
"""Choices that share more than this are drawn apart, by `_ALIKE_LOG` for all that they share."""

_ALIKE_LOG: Final = 8.0
_SAME_WORDS_LOG: Final = 20.0
"""Two choices never bear the same words while there are others."""


def distance(one: Facts, other: Facts) -> float:
    """How different two lines are: the share of their notes that they do not share, 0 to 1.

    Notes are the same when onset and pitch class agree (Jaccard distance of the two sets).
    """
    a, b = one.places, other.places
    return 1 - len(a & b) / len(a | b)


def pick(drafts: list[Draft], count: int) -> list[Draft]:
    """At most `count` drafts, each good and far from the ones before it; the best score first."""
    left = sorted(drafts, key=lambda draft: -draft.score)
    chosen: list[Draft] = []
    while left and len(chosen) < count:
        best = max(left, key=lambda draft: _worth(draft, chosen))
        left.remove(best)
        chosen.append(best)
    return sorted(chosen, key=lambda draft: -draft.score)


def _worth(draft: Draft, chosen: list[Draft]) -> float:
    """What a draft is worth beside those chosen."""
    worth = draft.score + _FAMILIAR_WORTH * draft.familiar - _NO_CLAIM_COST * (draft.way is None)
    if not chosen:
        return worth
    worth -= _LIKENESS_COST * (1 - min(distance(draft.facts, c.facts) for c in chosen))
    worth -= _SAME_WAY_COST * any(draft.words[0] == c.words[0] for c in chosen)
    worth -= _SAME_ENDING_COST * any(draft.words[1] == c.words[1] for c in chosen)
    return worth - _SAME_WORDS_COST * any(draft.words == c.words for c in chosen)


def draw(drafts: list[Draft], logs: list[float], count: int, rng: Random) -> list[Draft]:
    """Draw `count` drafts by their log odds, each unlike the ones before it; the best score first.

    The first is drawn among all that leave enough worse ones; the others are drawn among those,
    so that being listed first does not favour any kind of line.
    """
    order = sorted(range(len(drafts)), key=lambda i: -drafts[i].score)
    left = order[: max(1, len(order) - count + 1)]
    taken: list[Draft] = []
    while left and len(taken) < count:
        totals = [logs[i] - _worse(drafts[i], taken) for i in left]
        top = max(totals)
        i = rng.choices(left, [exp(total - top) for total in totals])[0]
        if not taken:
            left = order[order.index(i) :]
        left.remove(i)
        taken.append(drafts[i])
    return sorted(taken, key=lambda draft: -draft.score)


def _worse(draft: Draft, taken: list[Draft]) -> float:
    """How much less likely a draft becomes beside those taken, in log odds."""
    if not taken:
        return 0.0
    shared = 1 - min(distance(draft.facts, other.facts) for other in taken)
    same_words = any(draft.words == other.words for other in taken)
    return _ALIKE_LOG * max(0.0, shared - (1 - _APART)) + _SAME_WORDS_LOG * same_words
