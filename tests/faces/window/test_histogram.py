"""Histograms as pictures: bars where the counts are, as high as their share."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest
from PyQt6.QtGui import QImage

from live.faces.window.histogram import bar_box, draw_histograms, render_histograms
from live.faces.window.theme import DARK

LABELS = ["0", "1", "2", "10"]
TOP = 48  # margin and title above the first bars


def tone(image: QImage, number: int, share: float) -> str:
    """Colour in the middle of a bin, at a share of the full height."""
    box = bar_box(number, len(LABELS), TOP, share)
    scale = image.devicePixelRatio()
    return image.pixelColor(round(box.center().x() * scale), round(box.top() * scale)).name()


def test_bars_stand_where_the_counts_are():
    image = draw_histograms([("through", (0, 40, 10, 0))], LABELS, 3, "ms")
    assert tone(image, 1, 0.97) == DARK.call
    assert tone(image, 2, 0.20) == DARK.call
    assert tone(image, 2, 0.30) == DARK.ground
    for empty in (0, 3):
        assert tone(image, empty, 0.05) == DARK.ground


def test_each_row_adds_its_height_and_none_is_no_fault():
    heights = [
        draw_histograms([("a", (1, 1, 1, 1))] * count, LABELS, 3, "ms").height()
        for count in range(4)
    ]
    steps = {b - a for a, b in pairwise(heights)}
    assert len(steps) == 1
    assert steps.pop() > 100


def test_what_cannot_be_written_is_told(tmp_path: Path):
    path = tmp_path / "a.png"
    render_histograms([("a", (1, 2, 3, 0))], LABELS, 3, "ms", path)
    assert QImage(str(path)).width() == 1280
    with pytest.raises(OSError, match="cannot write the picture"):
        render_histograms([("a", (1, 2, 3, 0))], LABELS, 3, "ms", tmp_path / "no" / "a.png")
