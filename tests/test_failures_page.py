"""docs/failures.md and the tests it names: each exists, and each row says how it is shown."""

from __future__ import annotations

import ast
import re
from functools import cache
from pathlib import Path

import pytest

from tests.faults import FAULTS

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "failures.md"
NAMED = re.compile(r"`(tests/[\w/]+\.py)::(\w+)`")
BENCH = re.compile(r"measured: `(tests/bench/\w+\.py)`")


def rows() -> list[tuple[str, str, str]]:
    lines = PAGE.read_text(encoding="utf-8").splitlines()
    cells = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines if "|" in line]
    return [tuple(row) for row in cells if len(row) == 3 and set(row[0]) != {"-"}]


ROWS = [row for row in rows() if row[2] != "Shown by"]


@cache
def names_in(path: str) -> frozenset[str]:
    """Functions and classes, and test classes that are made by assignment, of a file."""
    tree = ast.parse((ROOT / path).read_text(encoding="utf-8"))
    names = {node.name for node in tree.body if isinstance(node, (ast.FunctionDef, ast.ClassDef))}
    assigned = [node.targets[0] for node in tree.body if isinstance(node, ast.Assign)]
    return frozenset(names | {target.id for target in assigned if isinstance(target, ast.Name)})


def test_the_page_covers_what_is_known():
    assert len(ROWS) >= 80


@pytest.mark.parametrize(("happens", "here", "shown"), ROWS, ids=[row[0][:60] for row in ROWS])
def test_every_row_names_tests_that_exist_or_says_why_not(happens, here, shown):
    found = NAMED.findall(shown)
    for path, name in found:
        assert (ROOT / path).exists(), path
        assert name in names_in(path), f"{path}::{name}"
        assert name.lower().startswith("test")
    for path in BENCH.findall(shown):
        assert (ROOT / path).exists(), path
    reasoned = here.startswith(("not here: ", "open: "))
    assert found or BENCH.findall(shown) or reasoned, happens
    assert shown.count("`") == 2 * (len(found) + len(BENCH.findall(shown)))


def test_the_fault_run_names_tests_that_exist_and_that_the_page_knows():
    page = PAGE.read_text(encoding="utf-8")
    for fault in FAULTS:
        path, _, name = fault.test.partition("::")
        assert name in names_in(path), fault
        assert f"`{fault.test}`" in page, fault
    assert "make faults" in page
