"""Choosing: the best lines that differ clearly from one another."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from live.answer.facts import Facts
from live.answer.line import OCTAVE
from live.answer.ways import Way


@dataclass(frozen=True, slots=True)
class Draft:
    """A finished line with its marks.

    Args:
        facts: the notes and what was counted on them.
        way: what its label claims; None claims nothing.
        words: its two labels.
        score: the critic's, 0 to 1.
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


def distance(one: Facts, other: Facts) -> float:
    """How different two lines are: the share of their notes that they do not share, 0 to 1.

    Notes are the same when onset and pitch class agree (Jaccard distance of the two sets).
    """
    a, b = _places(one), _places(other)
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
    worth = draft.score + _FAMILIAR_WORTH * draft.familiar - _NO_CLAIM_COST * (draft.way is None)
    if not chosen:
        return worth
    worth -= _LIKENESS_COST * (1 - min(distance(draft.facts, c.facts) for c in chosen))
    worth -= _SAME_WAY_COST * any(draft.words[0] == c.words[0] for c in chosen)
    worth -= _SAME_ENDING_COST * any(draft.words[1] == c.words[1] for c in chosen)
    return worth - _SAME_WORDS_COST * any(draft.words == c.words for c in chosen)


def _places(facts: Facts) -> set[tuple[int, int]]:
    pairs = zip(facts.onsets, facts.pitches, strict=True)
    return {(onset, pitch % OCTAVE) for onset, pitch in pairs}
