from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from PyQt6.QtGui import QImage

from live.faces.window import pictures
from live.faces.window.layout import COMPACT, FULL
from live.faces.window.picture import draw, height_for, offscreen, render_picture
from live.faces.window.samples import SAMPLES
from live.faces.window.theme import DARK, LIGHT
from tests.faces.states import IDLE, snapshot_named


def test_a_picture_has_the_asked_size_times_the_scale(tmp_path: Path) -> None:
    path = tmp_path / "a.png"
    render_picture(IDLE, path, "dark", 760)
    image = QImage(str(path))
    assert (image.width(), image.height()) == (2 * FULL[0], 2 * FULL[1])
    assert image.pixelColor(2, 2).name() == DARK.ground


def test_themes_differ_and_so_do_states(tmp_path: Path) -> None:
    dark, light = draw(IDLE, "dark", FULL), draw(IDLE, "light", FULL)
    assert light.pixelColor(2, 2).name() == LIGHT.ground
    assert dark != light
    images = [draw(s.snapshot, "dark", FULL, 1.0, s.moment) for s in SAMPLES]
    for index, image in enumerate(images):
        assert all(image != other for other in images[index + 1 :])


def test_the_same_snapshot_gives_the_same_picture() -> None:
    snapshot = snapshot_named("moved")
    assert draw(snapshot, "dark", FULL) == draw(snapshot, "dark", FULL)


def test_widths_below_the_usual_are_compact() -> None:
    assert height_for(760) == FULL[1]
    assert height_for(480) == COMPACT[1]


def test_a_folder_that_does_not_exist_is_an_oserror(tmp_path: Path) -> None:
    with pytest.raises(OSError, match="cannot write the picture"):
        render_picture(IDLE, tmp_path / "no" / "such" / "a.png")


def test_the_command_draws_every_state_in_both_themes_and_three_sizes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(pictures, "SAMPLES", SAMPLES[:2])
    assert pictures.main([str(tmp_path)]) == 0
    names = {path.name for path in tmp_path.iterdir()}
    assert len(names) == 2 * 2 * 3
    assert "idle-dark-window.png" not in names
    assert "no-daemon-light-wall.png" in names
    assert "12 pictures" in capsys.readouterr().out


def test_the_command_without_a_folder_explains_itself(capsys: pytest.CaptureFixture[str]) -> None:
    assert pictures.main([]) == 2
    assert "usage" in capsys.readouterr().err


def test_drawing_leaves_the_environment_alone() -> None:
    before = dict(os.environ)
    offscreen()
    draw(IDLE, "dark", FULL, 1.0)
    assert dict(os.environ) == before


def test_a_picture_needs_no_display_and_no_window_system(tmp_path: Path) -> None:
    code = (
        "from pathlib import Path; from live.faces.window.picture import render_picture;"
        "from live.faces.window.samples import IDLE;"
        f"render_picture(IDLE, Path({str(tmp_path / 'b.png')!r}))"
    )
    environ = {"PATH": "/usr/bin:/bin", "HOME": str(tmp_path)}
    subprocess.run([sys.executable, "-c", code], check=True, env=environ, timeout=60)
    assert (tmp_path / "b.png").stat().st_size > 5000
