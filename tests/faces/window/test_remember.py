from __future__ import annotations

import pytest
from PyQt6.QtCore import QSettings

from live.faces.window.layout import MIN_SIZE, Box
from live.faces.window.remember import Memory, keep, recall


@pytest.fixture(autouse=True)
def _own_settings(tmp_path) -> None:
    QSettings.setPath(QSettings.Format.IniFormat, QSettings.Scope.UserScope, str(tmp_path))


def test_never_kept_is_the_usual() -> None:
    assert recall() == Memory()


def test_what_was_kept_comes_back() -> None:
    memory = Memory(Box(-40, 12, 900, 300), "light", on_top=False, still=True)
    keep(memory)
    assert recall() == memory


@pytest.mark.parametrize("text", ["", "1 2 3", "a b c d", "1 2 3 4 5"])
def test_a_place_that_cannot_be_read_counts_as_never_kept(text: str) -> None:
    keep(Memory())
    store = QSettings(QSettings.Format.IniFormat, QSettings.Scope.UserScope, "undersong", "window")
    store.setValue("box", text)
    store.setValue("theme", "purple")
    store.sync()
    assert recall() == Memory()


def test_a_size_below_the_least_is_raised_to_it() -> None:
    keep(Memory(Box(0, 0, 10, 10)))
    assert recall().box == Box(0, 0, *MIN_SIZE)
