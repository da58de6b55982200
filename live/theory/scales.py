"""The scale: a name, its steps above the tonic, and how its degrees are numbered."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import lru_cache

from live.theory.errors import FieldError
from live.theory.pitch_sets import forte_number, interval_vector
from live.theory.scale_table import ROWS

MAJOR_STEPS = (0, 2, 4, 5, 7, 9, 11)
"""Semitones of the major scale, against which degrees are labelled."""

HARMONIC_CHROMATIC = (
    *((1, 0), (2, -1), (2, 0), (3, -1), (3, 0), (4, 0)),
    *((4, 1), (5, 0), (6, -1), (6, 0), (7, -1), (7, 0)),
)
"""(number, alter) of each semitone above a tonic when no scale says otherwise.

Source: the harmonic chromatic scale, common practice: five fifths down, six fifths up.
"""

_ASCII_SIGNS = str.maketrans({"♭": "b", "♯": "#", "♮": "natural ", "𝄫": "bb", "𝄪": "##"})


@dataclass(frozen=True, slots=True)
class Scale:
    """A named set of steps.

    Args:
        name: the name shown.
        steps: semitones above the tonic, from 0, strictly ascending, below 12.
        aliases: other names it is found by; they do not count when scales are compared.
    Raises: FieldError when the steps break the rule.
    Thread: any; immutable.
    """

    name: str
    steps: tuple[int, ...]
    aliases: tuple[str, ...] = field(default=(), compare=False)

    def __post_init__(self) -> None:
        rising = all(low < high for low, high in zip(self.steps, self.steps[1:], strict=False))
        if not self.steps or self.steps[0] != 0 or self.steps[-1] > 11 or not rising:
            raise FieldError("scale steps", "from 0, strictly rising, at most 11", self.steps)

    @property
    def is_minor(self) -> bool:
        """True when minor is the nearer mode.

        The third decides, a major third first; without a third, a lowered 2 or 7 is minor.
        """
        steps = set(self.steps)
        return 4 not in steps and bool(steps & {3, 1, 10})

    @property
    def formula(self) -> tuple[tuple[int, int], ...]:
        """(number, alter) of each step against the major scale: b3 is (3, -1)."""
        return _formula(self.steps)

    @property
    def forte(self) -> str:
        """Forte number of its notes, such as `7-35`; see `pitch_sets.forte_number`."""
        return forte_number(self.steps)

    @property
    def interval_vector(self) -> tuple[int, int, int, int, int, int]:
        """How often each interval class from 1 to 6 semitones occurs in it."""
        return interval_vector(self.steps)


@lru_cache(maxsize=256)
def _formula(steps: tuple[int, ...]) -> tuple[tuple[int, int], ...]:
    """Seven notes take each number once; others are numbered as the harmonic chromatic scale."""
    if len(steps) == len(MAJOR_STEPS):
        alters = [step - plain for step, plain in zip(steps, MAJOR_STEPS, strict=True)]
        if all(abs(alter) <= 2 for alter in alters):
            return tuple((place + 1, alter) for place, alter in enumerate(alters))
    return tuple(_sparse_degree(step, steps) for step in steps)


def _sparse_degree(step: int, steps: tuple[int, ...]) -> tuple[int, int]:
    """Common practice: b5 in a blues scale, #5 in a whole-tone scale."""
    if step == 6 and 5 in steps and 4 not in steps:
        return (5, -1)
    if step == 8 and 4 in steps and 7 not in steps:
        return (5, 1)
    return HARMONIC_CHROMATIC[step]


def plain_name(text: str) -> str:
    """A scale name as it is compared: lower case, ASCII accidentals, single spaces."""
    signs = text.lower().translate(_ASCII_SIGNS)
    return re.sub(r"[\s_-]+", " ", signs).strip()


SCALES: tuple[Scale, ...] = tuple(Scale(name, steps, aliases) for name, steps, aliases in ROWS)
"""Every named scale; `major` and `minor` are the ionian and aeolian modes."""


def find_scale(text: str, own: Iterable[Scale] = ()) -> Scale:
    """Find a scale by name or alias, in any case, spaces and hyphens alike.

    Args:
        text: the name.
        own: the player's own scales, found by their names too.
    Raises: FieldError that names the nearest known scales.
    """
    name = plain_name(text)
    found = _by_name().get(name)
    if found is not None:
        return found
    by_own_name = {plain_name(scale.name): scale for scale in own}
    if name not in by_own_name:
        raise FieldError("scale", _near_names(name, [*_by_name(), *by_own_name]), text)
    return by_own_name[name]


def scale_of_steps(steps: tuple[int, ...]) -> Scale | None:
    """The named scale with just these steps, or None."""
    return _by_steps().get(steps)


@lru_cache(maxsize=1)
def _by_name() -> dict[str, Scale]:
    return {plain_name(name): scale for scale in SCALES for name in (scale.name, *scale.aliases)}


@lru_cache(maxsize=1)
def _by_steps() -> dict[tuple[int, ...], Scale]:
    return {scale.steps: scale for scale in SCALES}


def _near_names(name: str, known: list[str]) -> str:
    from difflib import get_close_matches

    near = get_close_matches(name, known, n=3, cutoff=0.6)
    if near:
        return "did you mean " + " or ".join(near)
    return "a scale name such as major, minor, dorian, phrygian dominant, minor pentatonic"
