"""The page about the settings, and the ready-made files, say what the table says."""

from __future__ import annotations

from pathlib import Path

import pytest

from live.daemon.settings import defaults, engine_config, load
from live.daemon.settings_page import page

ROOT = Path(__file__).resolve().parent.parent.parent
CONFIGS = sorted((ROOT / "configs").glob("*.toml"))


def test_the_page_in_the_docs_is_the_tables() -> None:
    assert (ROOT / "docs" / "settings.md").read_text(encoding="utf-8") == page()


def test_there_are_ready_made_files() -> None:
    assert {path.stem for path in CONFIGS} >= {"headless", "night-ferry", "routing"}


@pytest.mark.parametrize("path", CONFIGS, ids=lambda path: path.stem)
def test_a_ready_made_file_loads_and_changes_something(path: Path) -> None:
    settings = load(path)
    assert settings != defaults()
    assert engine_config(settings).key.name == settings["play.key"]
