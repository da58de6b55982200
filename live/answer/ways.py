"""Ways to answer, each with the claim its label makes; a line that breaks the claim is dropped."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, Literal

from live.answer.facts import Facts
from live.answer.line_moves import OCTAVE
from live.answer.listen import EIGHTH_TICKS
from live.answer.rhythm import Feel
from live.clock.units import TICKS_PER_BEAT

Motif = Literal["same", "inverted", "moved", "root", "free"]


@dataclass(frozen=True, slots=True)
class Way:
    """One way to answer.

    Args:
        word: the label a player sees.
        motif: what the pitches do with the call's head.
        feel: weights of the rhythm.
        pull: how strongly the targets draw the line.
        needs_call: makes no sense after silence.
        holds: whether a line really does what the label says.
    """

    word: str
    motif: Motif
    feel: Feel
    pull: float
    needs_call: bool
    holds: Callable[[Facts], bool]


def echoes(facts: Facts) -> bool:
    """Six in ten shared onsets of the head bring the call's note back, three if it has them."""
    head_end = facts.scene.head_end
    in_head = sum([tick < head_end for tick in facts.scene.melody])
    return facts.head_same >= max(1, min(3, in_head)) and 5 * facts.head_same >= 3 * len(facts.head)


def turns(facts: Facts) -> bool:
    """Most moves of the head go the other way."""
    _, against, moves = facts.head_moves
    return moves > 1 and 5 * against >= 3 * moves


def sequences(facts: Facts) -> bool:
    """Most moves of the head go the call's way, from another note."""
    along, _, moves = facts.head_moves
    if moves < 2 or 5 * along < 3 * moves:
        return False
    call, here = facts.head[0]
    return (call - here) % OCTAVE != 0 and 2 * facts.head_same < len(facts.head)


def fills(facts: Facts) -> bool:
    """At least six in ten notes start where the call has none."""
    return 5 * (len(facts.onsets) - facts.called) >= 3 * len(facts.onsets)


def locks(facts: Facts) -> bool:
    """Three kicks in four have a note, two at least, and no snare has one."""
    hit, there = facts.kicks
    return hit > 1 and 4 * hit >= 3 * there and facts.on_snare == 0


def drives(facts: Facts) -> bool:
    """At least seven in ten steps are eighths or shorter, and none is longer than a quarter."""
    steps = facts.steps_ticks
    short = sum(ticks <= EIGHTH_TICKS for ticks in steps)
    return len(steps) > 1 and 10 * short >= 7 * len(steps) and max(steps) <= TICKS_PER_BEAT


def grounds(facts: Facts) -> bool:
    """At least six in ten notes on the chord's root."""
    return 5 * facts.roots >= 3 * len(facts.pitches)


def keeps_rhythm(facts: Facts) -> bool:
    """Four in five notes start where the call's do, and four in five of the call's come back."""
    called = len(facts.scene.melody)
    return called > 2 and 5 * facts.called >= 4 * max(called, len(facts.onsets))


def takes_figure(facts: Facts) -> bool:
    """Three notes in a row are three of the call's, in the same rhythm, from any note."""
    return bool(facts.figure)


# called, gap, kick, snare, strong; density, least, most
_ECHO: Final = Feel(1.6, 0.0, 0.5, -0.8, 0.4, 1.1, 1.35, 1.9)
_GAPS: Final = Feel(-0.8, 0.5, 0.4, -0.8, 0.3, 1.2, 1.35, 1.9)
_KICK: Final = Feel(0.5, 0.0, 1.6, -1.5, 0.4, 1.2, 1.35, 1.75)
_EIGHTHS: Final = Feel(0.4, 0.4, 0.4, -0.2, 0.4, 1.5, 1.85, 2.0)
_ROOTS: Final = Feel(0.3, 0.0, 0.7, -1.0, 0.8, 0.7, 0.5, 1.0)

WAYS: Final[tuple[Way, ...]] = (
    Way("head", "same", _ECHO, 7.0, needs_call=True, holds=echoes),
    Way("turn", "inverted", _ECHO, 7.0, needs_call=True, holds=turns),
    Way("gaps", "free", _GAPS, 1.5, needs_call=True, holds=fills),
    Way("sequence", "moved", _ECHO, 7.0, needs_call=True, holds=sequences),
    Way("kick", "free", _KICK, 1.5, needs_call=False, holds=locks),
    Way("eighths", "root", _EIGHTHS, 0.6, needs_call=False, holds=drives),
    Way("roots", "root", _ROOTS, 1.5, needs_call=False, holds=grounds),
)


CLAIMS: Final[tuple[Way, ...]] = (
    *WAYS,
    Way("figure", "free", _ECHO, 0.0, needs_call=True, holds=takes_figure),
    Way("rhythm", "free", _ECHO, 0.0, needs_call=True, holds=keeps_rhythm),
)
"""What a line may be said to do; the last ones come about and are not set out for."""


def claim_of(facts: Facts, first: Way | None = None) -> Way | None:
    """The label that was wanted if the line keeps its claim, otherwise the first it does keep."""
    options: tuple[Way, ...] = (first, *CLAIMS) if first else CLAIMS
    for option in options:
        if option.holds(facts) and not (option.needs_call and not facts.scene.melody):
            return option
    return None
