"""The player's own scales: a name and steps, checked; and how such a scale is written in a key.

A scale of one's own is written with its steps, `my scale [0 1 5 7 8]`, so that a key's name can be
read again anywhere, in a file or by another process, without the settings it came from.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache

from live.theory.errors import FieldError
from live.theory.scales import Scale, find_scale, plain_name, scale_of_steps

MIN_NOTES, MAX_NOTES = 2, 12
"""How many notes a scale of one's own may have, both included."""

NAME_RULE = (
    "up to 32 letters, digits, spaces, signs and hyphens; it starts with a letter or digit, is"
    " not the name of another scale and does not begin with sharp or flat"
)
STEPS_RULE = (
    "2 to 12 different whole numbers from 0 (the tonic) to 11 semitones, 0 among them, such as"
    " 0 1 5 7 8"
)
UNNAMED = "own scale"
"""The name of a scale given by its steps alone."""

_NAME = re.compile(r"(?!(?:sharp|flat)\b)[^\W_][\w '#♯♭-]{0,31}", re.IGNORECASE)
_WITH_STEPS = re.compile(r"([^\[\]]*)\[([^\[\]]*)\]")
_OCTAVE = 12


def own_scale(name: object, steps: Iterable[object]) -> Scale:
    """A scale of the player's own.

    Args:
        name: as NAME_RULE says.
        steps: semitones above the tonic, as STEPS_RULE says; any order, repeats are dropped, and
            12, the octave, counts as the tonic.
    Raises: FieldError naming `scale name` or `scale steps`, what is allowed and what was given.
    """
    scale = Scale(_checked_name(name), checked_steps(steps))
    try:
        known = find_scale(scale.name)
    except FieldError:
        return scale
    if known.steps != scale.steps:
        raise FieldError("scale name", NAME_RULE, name)
    return known


def checked_steps(steps: Iterable[object]) -> tuple[int, ...]:
    """Steps in rising order, each once. Raises: FieldError."""
    given = list(steps)
    if not all(type(step) is int and 0 <= step <= _OCTAVE for step in given):
        raise FieldError("scale steps", STEPS_RULE, given)
    found = {step % _OCTAVE for step in given if isinstance(step, int)}
    if 0 not in given or not MIN_NOTES <= len(found) <= MAX_NOTES:
        raise FieldError("scale steps", STEPS_RULE, given)
    return tuple(sorted(found))


def read_scale(text: str, own: Iterable[Scale] = ()) -> Scale:
    """Find a scale by name, or read `name [0 1 5 7 8]` or the steps alone, `[0 1 5 7 8]`.

    Steps alone that are those of a named scale are that scale.
    Raises: FieldError.
    """
    match = _WITH_STEPS.fullmatch(text.strip())
    if match is None:
        return find_scale(text, own)
    words = match[2].replace(",", " ").split()
    steps = [int(word) if re.fullmatch("[0-9]{1,4}", word) else word for word in words]
    if match[1].strip():
        return own_scale(match[1].strip(), steps)
    checked = checked_steps(steps)
    return scale_of_steps(checked) or Scale(UNNAMED, checked)


@lru_cache(maxsize=256)
def written(scale: Scale) -> str:
    """The name by which `read_scale` finds the scale again: with steps unless it is a known one."""
    try:
        if find_scale(scale.name) == scale:
            return scale.name
    except FieldError:
        pass
    return f"{scale.name} [{' '.join(map(str, scale.steps))}]"


def _checked_name(name: object) -> str:
    if not isinstance(name, str) or _NAME.fullmatch(name.strip()) is None:
        raise FieldError("scale name", NAME_RULE, name)
    return " ".join(name.split())


def find_twice(scales: Iterable[Scale]) -> Scale | None:
    """The first scale whose name another before it has, or None."""
    seen = set[str]()
    for scale in scales:
        name = plain_name(scale.name)
        if name in seen:
            return scale
        seen.add(name)
    return None
