from __future__ import annotations

import pytest
from PyQt6.QtGui import QFontDatabase, QFontInfo

from live.faces.window import glyphs, letters
from live.faces.window.letters import Size

SIZES = (Size.HEAD, Size.TEXT, Size.SMALL)


@pytest.mark.parametrize("bold", [False, True])
@pytest.mark.parametrize("sign", list(glyphs.SIGNS))
def test_signs_stand_on_the_line_and_stay_in_their_width(sign: str, bold: bool) -> None:
    box = glyphs.outline(sign, 100.0, bold=bold).boundingRect()
    assert -25 <= box.bottom() <= 8  # a little below the line at most; double sharp hangs higher
    assert -120 <= box.top() <= -70
    assert box.left() >= 0
    assert box.right() <= glyphs.advance(sign, 100.0)


@pytest.mark.parametrize("sign", ["♭", "♯", "♮"])
def test_single_signs_reach_the_line(sign: str) -> None:
    assert glyphs.outline(sign, 100.0, bold=True).boundingRect().bottom() >= 0


def test_bold_signs_have_more_ink() -> None:
    for sign in glyphs.SIGNS:
        thin, thick = (_ink(sign, bold=bold) for bold in (False, True))
        assert thick > thin * 1.15, sign


def _ink(sign: str, *, bold: bool) -> int:
    path = glyphs.outline(sign, 60.0, bold=bold)
    from PyQt6.QtCore import QPointF

    points = [(x, y) for x in range(70) for y in range(-75, 10)]
    return sum(path.contains(QPointF(x + 0.5, y + 0.5)) for x, y in points)


def test_inter_is_used_where_it_is_installed() -> None:
    wanted = "Inter" in QFontDatabase.families()
    assert (letters.family() == "Inter") == wanted
    assert QFontInfo(letters.font(Size.TEXT, 1.0, bold=False)).family()


def test_the_four_sizes_scale_together() -> None:
    at_one = [letters.font(size, 1.0, bold=False).pixelSize() for size in Size]
    assert at_one == [68, 14, 12, 10]
    assert [letters.font(size, 2.0, bold=False).pixelSize() for size in Size] == [136, 28, 24, 20]


def test_figures_have_one_width() -> None:
    widths = {letters.width_of(figure, Size.TEXT, 1.0) for figure in "0123456789"}
    assert max(widths) - min(widths) < 0.01


@pytest.mark.parametrize("room", range(0, 200, 7))
def test_fitted_text_never_exceeds_its_room(room: int) -> None:
    placed = letters.fit("E♭  lowered supertonic", float(room), SIZES, 1.0, bold=True)
    assert placed.width <= room
    assert placed.cut == (placed.text != "E♭  lowered supertonic")


def test_text_takes_the_largest_size_that_fits() -> None:
    text = "A dominant"
    wide = letters.width_of(text, Size.HEAD, 1.0)
    assert letters.fit(text, wide, SIZES, 1.0, bold=False).size is Size.HEAD
    assert letters.fit(text, wide - 1, SIZES, 1.0, bold=False).size is Size.TEXT


def test_a_sign_counts_in_the_width() -> None:
    cap = letters.cap_height(Size.TEXT, 1.0)
    flat_three = letters.width_of("♭3", Size.TEXT, 1.0)
    three = letters.width_of("3", Size.TEXT, 1.0)
    assert flat_three == pytest.approx(three + glyphs.advance("♭", cap))
