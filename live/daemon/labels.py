"""What zones and routes may call inputs and outputs, and the source numbers behind the names.

The numbers follow from the settings alone, so that nothing is looked up by name while notes pass.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from live.notes.places import (
    ANSWER,
    CLOCK_IN,
    CLOCK_OUT,
    FACE_SOURCES,
    KEYS_IN,
    LIGHTS,
    RETURN,
    RETURN_SOURCE,
    THROUGH,
)
from live.theory.errors import FieldError

AUTO: Final = "auto"
MOST_INPUTS: Final = 32
"""Inputs that settings may name, keyboards and our own together (own choice)."""
OWN_NAME: Final = "1 to 32 letters, digits, spaces, - and _"
_OWN_NAME: Final = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9 _-]{0,30}[A-Za-z0-9_-])?")
_FIXED: Final = ("ports.through", "ports.answer", "ports.clock_out", "lights.port")
_OURS: Final = (KEYS_IN, CLOCK_IN, RETURN, THROUGH, ANSWER, CLOCK_OUT, LIGHTS, AUTO)


@dataclass(frozen=True, slots=True)
class Labels:
    """The names that may be used.

    Args:
        inputs: label -> source numbers.
        outputs: labels of all outputs that notes may be sent to.
        others: those of them that are outputs of others (`ports.outputs`).
    """

    inputs: Mapping[str, frozenset[int]]
    outputs: tuple[str, ...]
    others: tuple[str, ...]


def source_numbers(keyboards: Iterable[str], own_inputs: Iterable[str]) -> dict[str, int]:
    """The source number of each input that settings name; `keys in` is 0."""
    named = [name for name in keyboards if name and name != AUTO]
    return {name: number for number, name in enumerate([KEYS_IN, *named, *own_inputs])}


def first_found(keyboards: Iterable[str], own_inputs: Iterable[str]) -> int:
    """The first source number of keyboards that are found by themselves."""
    return len(source_numbers(keyboards, own_inputs))


def read_labels(values: Mapping[str, Any]) -> Labels:
    """The labels of some settings.

    Args:
        values: settings by name (`ports.own_inputs`).
    Raises: FieldError if a name cannot be told from another.
    """
    keyboards, own_inputs = values["ports.keyboards"], values["ports.own_inputs"]
    own_outputs, others = values["ports.own_outputs"], values["ports.outputs"]
    _check_own("ports.own_inputs", own_inputs)
    _check_own("ports.own_outputs", own_outputs)
    fixed = [values[name] for name in _FIXED]
    named = [name for name in keyboards if name and name != AUTO]
    _check_apart("ports.keyboards", named, [name for name in _OURS if name != AUTO])
    _check_apart("ports.own_inputs", own_inputs, named)
    _check_apart("ports.own_outputs", own_outputs, own_inputs)
    _check_apart("ports.outputs", others, [*own_outputs, *own_inputs, *_OURS, *filter(None, fixed)])
    if len(named) + len(own_inputs) > MOST_INPUTS:
        allowed = f"{MOST_INPUTS} inputs at most, with ports.keyboards"
        raise FieldError("ports.own_inputs", allowed, len(named) + len(own_inputs))
    numbers = source_numbers(keyboards, own_inputs)
    inputs = {name: frozenset({number}) for name, number in numbers.items()}
    inputs[RETURN] = frozenset({RETURN_SOURCE})
    if AUTO in keyboards:
        inputs[AUTO] = frozenset(range(first_found(keyboards, own_inputs), FACE_SOURCES.start))
    return Labels(inputs, (THROUGH, *own_outputs, *others), tuple(others))


def _check_own(field: str, names: Sequence[str]) -> None:
    for name in names:
        if not _OWN_NAME.fullmatch(name):
            raise FieldError(field, OWN_NAME, name)
        if name.lower() in _OURS:
            raise FieldError(field, f"other names than {', '.join(_OURS)}", name)


def _check_apart(field: str, names: Sequence[str], taken: Sequence[str]) -> None:
    """Names differ from each other and from those taken, whatever their capitals."""
    seen = {name.lower() for name in taken}
    for name in names:
        if not name.strip() or name.lower() in seen:
            raise FieldError(field, "names that are not empty and not in use already", name)
        seen.add(name.lower())
