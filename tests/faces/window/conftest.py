"""Widgets are tested without a display, and without touching what the user's window keeps."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from PyQt6.QtCore import QSettings
from PyQt6.QtWidgets import QApplication

from live.faces.window.picture import offscreen
from live.faces.window.remember import Memory
from tests.faces.states import snapshot_named
from tests.faces.window.desk import Desk


@pytest.fixture(scope="session")
def app(tmp_path_factory: pytest.TempPathFactory) -> QApplication:
    """The one application of the test process."""
    folder = str(tmp_path_factory.mktemp("settings"))
    QSettings.setPath(QSettings.Format.IniFormat, QSettings.Scope.UserScope, folder)
    offscreen()
    application = QApplication.instance()
    assert isinstance(application, QApplication)
    return application


@pytest.fixture(autouse=True)
def _app(app: QApplication) -> None:
    """Every test here may make widgets."""


@pytest.fixture
def desk() -> Iterator[Desk]:
    made = Desk(Memory(theme="dark"))
    made.open()
    made.window.take_snapshot(snapshot_named("answer"))
    yield made
    made.window.hide()
    made.window.deleteLater()
