"""Every text of every state, at every size: whole, inside the window, on top of no other text."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import pytest
from PyQt6.QtCore import QRectF
from PyQt6.QtGui import QFontDatabase, QPainter

from live.faces.window import letters
from live.faces.window.layout import COMPACT, FULL, MIN_SIZE
from live.faces.window.picture import draw
from live.faces.window.samples import SAMPLES, Sample
from live.faces.window.views import NO_DAEMON

SIZES = {
    "usual": FULL,
    "compact": COMPACT,
    "least": MIN_SIZE,
    "wall": (1900, 715),
    "high": (760, 700),
    "wide": (1600, 286),
}
MAY_BE_CUT = ("Ports: ", "No Undersong is running", "Key: got")
"""Sentences of the last line, which its tool tip holds whole."""


@dataclass
class Written:
    """A text as written, with the box of its letters in device pixels."""

    text: str
    shown: str
    box: QRectF


@pytest.fixture
def written(monkeypatch: pytest.MonkeyPatch) -> list[Written]:
    texts: list[Written] = []
    write = letters.write

    def noting(painter: QPainter, box: QRectF, text: str, *args, **options) -> letters.Placed:
        placed = write(painter, box, text, *args, **options)
        scale, align = args[1], options.get("align", "left")
        cap = letters.cap_height(placed.size, scale, bold=options.get("bold", False))
        spare = {"left": 0.0, "centre": 0.5, "right": 1.0}[align] * (box.width() - placed.width)
        ink = QRectF(box.left() + spare, box.center().y() - cap / 2, placed.width, cap)
        texts.append(Written(text, placed.text, painter.deviceTransform().mapRect(ink)))
        return placed

    monkeypatch.setattr(letters, "write", noting)
    return texts


@pytest.fixture(params=["installed", "wider"])
def typeface(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """The font in use, and one with wider letters in its place."""
    if request.param == "wider":
        assert "DejaVu Sans" in QFontDatabase.families(), "needs Debian's fonts-dejavu-core"
        _forget_fonts()
        monkeypatch.setattr(letters, "family", lambda: "DejaVu Sans")
    yield
    _forget_fonts()


def _forget_fonts() -> None:
    for cached in (letters.font, letters._metrics, letters.width_of, letters.fit):
        cached.cache_clear()


@pytest.mark.parametrize("ratio", [1.0, 1.25, 1.5, 2.0])
@pytest.mark.parametrize("size", SIZES.values(), ids=SIZES.keys())
@pytest.mark.parametrize("sample", SAMPLES, ids=lambda sample: sample.name)
def test_texts_fit(
    sample: Sample, size: tuple[int, int], ratio: float, written: list[Written]
) -> None:
    draw(sample.snapshot, "dark", size, ratio, sample.moment)
    check(written, size, ratio)


@pytest.mark.parametrize("size", [FULL, COMPACT, MIN_SIZE], ids=["usual", "compact", "least"])
@pytest.mark.parametrize("sample", SAMPLES, ids=lambda sample: sample.name)
def test_texts_fit_in_other_fonts_too(
    sample: Sample, size: tuple[int, int], written: list[Written], typeface: None
) -> None:
    draw(sample.snapshot, "light", size, 1.0, sample.moment)
    check(written, size, 1.0)


def check(written: list[Written], size: tuple[int, int], ratio: float) -> None:
    shown = [text for text in written if text.shown]
    assert len(shown) >= 8
    cut = [t for t in written if t.text != t.shown and not t.text.startswith(MAY_BE_CUT)]
    assert not cut, [(text.text, text.shown) for text in cut]
    window = QRectF(0, 0, size[0] * ratio, size[1] * ratio)
    for text in shown:
        assert window.contains(text.box), text
    for index, text in enumerate(shown):
        inner = text.box.adjusted(0.6, 0.6, -0.6, -0.6)
        clashes = [other for other in shown[index + 1 :] if inner.intersects(other.box)]
        assert not clashes, (text, clashes)


def test_the_check_itself_sees_cut_and_clashing_texts(written: list[Written]) -> None:
    draw(None, "dark", FULL, 1.0)
    assert NO_DAEMON.lanes.call_note not in [text.text for text in written]
    box = QRectF(10, 10, 30, 10)
    many = [Written(str(n), str(n), QRectF(40.0 * n, 100, 9, 9)) for n in range(8)]
    with pytest.raises(AssertionError):
        check([*many, Written("long", "lo…", box)], FULL, 1.0)
    with pytest.raises(AssertionError):
        check([*many, Written("a", "a", box), Written("b", "b", box)], FULL, 1.0)
    with pytest.raises(AssertionError):
        check([*many, Written("a", "a", box.translated(-20, 0))], FULL, 1.0)
