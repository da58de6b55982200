"""The floors: a package imports its own floor and lower ones, and only the libraries it may."""

from __future__ import annotations

import ast
import graphlib
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent / "live"
FLOORS = {
    "theory": 0,
    "clock": 1,
    "notes": 2,
    "answer": 3,
    "practice": 3,
    "ports": 4,
    "takes": 4,
    "daemon": 5,
    "faces": 6,
}
LIBRARIES = {
    "live/ports/rt.py": {"rtmidi"},
    "live/ports/services.py": {"rtmidi"},
    "live/ports": {"numpy"},
    "live/ports/files.py": {"mido"},
    "live/ports/sound.py": {"sounddevice"},
    "live/ports/devices.py": {"sounddevice"},
    "live/daemon": {"platformdirs"},
    "live/faces/window": {"PyQt6"},
}
"""Third-party libraries, by the one file or folder that may import them."""
PURE = ("theory", "clock", "notes", "answer", "practice")
OUTSIDE = {"os", "socket", "subprocess", "threading", "pathlib", "sqlite3", "time", "logging"}
"""Modules that a pure floor has no use for: the world, threads and the wall clock."""
CLOCK = {"live/clock/clock.py": {"time"}}
"""The one place of the core where real time is read, behind the clock interface."""

FILES = sorted(ROOT.rglob("*.py"))


def imports(path: Path) -> list[tuple[str, int]]:
    found = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found += [(alias.name, node.lineno) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import"
            found.append((node.module or "", node.lineno))
    return found


def floor_of(module: str) -> int:
    parts = module.split(".")
    return FLOORS[parts[1]] if len(parts) > 1 else -1


def relative(path: Path) -> str:
    return path.relative_to(ROOT.parent).as_posix()


def libraries_allowed(path: Path) -> set[str]:
    name = relative(path)
    allowed = set[str]()
    for place, libraries in LIBRARIES.items():
        if name == place or name.startswith(place + "/"):
            allowed |= libraries
    return allowed


def module_of(path: Path) -> str:
    parts = path.relative_to(ROOT.parent).with_suffix("").parts
    return ".".join(part for part in parts if part != "__init__")


def needed(path: Path) -> set[str]:
    """The modules of ours that a file names, be it only for the checker of types."""
    names = {module_of(file) for file in FILES}
    found = {module for module, _ in imports(path)}
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom):
            found |= {f"{node.module}.{alias.name}" for alias in node.names}
    return found & names


def test_no_module_needs_itself_in_a_circle() -> None:
    graph = {module_of(path): needed(path) for path in FILES}
    assert len(graph["live.daemon.supervisor"]) > 10
    graphlib.TopologicalSorter(graph).prepare()  # CycleError names a circle


def test_there_are_files_to_check() -> None:
    assert {path.parent.name for path in FILES} >= set(FLOORS) | {"window"}


@pytest.mark.parametrize("path", FILES, ids=relative)
def test_imports_stay_on_their_floor(path: Path) -> None:
    package = path.relative_to(ROOT).parts[0]
    own = FLOORS.get(package, 7)
    for module, line in imports(path):
        if module.split(".")[0] == "live":
            assert floor_of(module) <= own, f"{relative(path)}:{line} imports {module}"
        elif module.split(".")[0] not in sys.stdlib_module_names:
            library = module.split(".")[0]
            assert library in libraries_allowed(path), f"{relative(path)}:{line} imports {module}"


@pytest.mark.parametrize("path", [p for p in FILES if p.parent.name in PURE], ids=relative)
def test_the_core_has_no_outside(path: Path) -> None:
    for module, line in imports(path):
        top = module.split(".")[0]
        allowed = CLOCK.get(relative(path), set())
        assert top not in OUTSIDE - allowed, f"{relative(path)}:{line} imports {module}"


WINDOW_SEES = {"live.daemon.snapshot", "live.daemon.link", "live.daemon.address"}


def test_the_window_knows_no_ports_no_engine_and_of_the_daemon_only_its_face() -> None:
    seen = set()
    for path in FILES:
        if "window" in path.parts:
            for module, line in imports(path):
                inner = module.startswith("live.") and floor_of(module) in (4, 5)
                if inner or module in ("live.notes.engine", "live.notes.dialogue"):
                    seen.add(module)
                    assert module in WINDOW_SEES, f"{relative(path)}:{line} imports {module}"
    assert "live.daemon.snapshot" in seen


def test_music21_is_nowhere_in_the_product() -> None:
    assert not [p for p in FILES if any(m.startswith("music21") for m, _ in imports(p))]
