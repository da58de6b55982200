"""What the composer keeps between calls has a bound."""

from __future__ import annotations

import pkgutil
from collections.abc import Iterator
from dataclasses import replace
from importlib import import_module
from random import Random
from types import ModuleType

import pytest

import live
import live.answer
from live.answer.compose import compose
from live.clock.metre import Metre
from live.notes.taste import Taste
from live.theory.keys import parse_key
from tests.answer.calls import brief, walk

MOST_KEPT = 4096
PURE = ("theory", "clock", "notes", "answer", "practice")


def _modules(*floors: str) -> list[ModuleType]:
    names = [
        found.name
        for floor in floors
        for found in pkgutil.iter_modules([f"{live.__path__[0]}/{floor}"], f"live.{floor}.")
    ]
    return [import_module(name) for name in names]


def _caches(modules: list[ModuleType]) -> dict[str, int | None]:
    """Most entries of every cached function, None for one without a bound."""
    return {
        f"{module.__name__}.{name}": made.cache_parameters()["maxsize"]
        for module in modules
        for name, made in vars(module).items()
        if hasattr(made, "cache_parameters")
    }


def _sizes(modules: list[ModuleType]) -> Iterator[tuple[str, int]]:
    """Every table that a module, or a class of it, holds."""
    for module in modules:
        for owner in (module, *(one for one in vars(module).values() if isinstance(one, type))):
            for name, made in vars(owner).items():
                if isinstance(made, dict | list | set):
                    yield f"{module.__name__}.{owner.__name__}.{name}", len(made)


def test_every_cache_has_a_bound() -> None:
    caches = _caches(_modules(*PURE))
    assert len(caches) >= 20
    assert not {name: most for name, most in caches.items() if not (most and most <= MOST_KEPT)}


@pytest.mark.parametrize("down", [0, 24])
def test_no_table_grows_with_the_phrases(down: int) -> None:
    modules = _modules("answer", "theory")
    before = dict(_sizes(modules))
    assert len(before) >= 20
    for seed, name in enumerate(("D minor", "F# dorian", "Bb major", "E phrygian")):
        key, metre = parse_key(name), Metre(6, 8) if seed % 2 else Metre(4, 4)
        played = walk(Random(seed), key, 2, metre.bar_ticks)
        played = tuple(replace(note, pitch=note.pitch - down) for note in played)
        taste = Taste(leaps=seed / 4, density=seed / 4, register=seed / 4)
        compose(brief(played, name, "i iv" if seed else None, metre=metre, taste=taste, seed=seed))
    assert dict(_sizes(modules)) == before
