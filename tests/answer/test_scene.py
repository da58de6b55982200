"""The scene puts brief, call, harmony and frame side by side."""

from __future__ import annotations

import pytest

from live.answer.scene import Scene
from live.theory.errors import FieldError
from tests.answer.calls import BAR, brief, notes


def test_the_call_is_laid_over_the_answer() -> None:
    scene = Scene(brief(notes((0, 62), (20, 65)), answer_bars=3))
    assert scene.melody == {0: 62, BAR + 960: 65, 2 * BAR: 62}
    assert set(scene.melody) <= set(scene.spots)


@pytest.mark.parametrize(("bars", "end"), [(1, BAR // 2), (2, BAR), (8, BAR)])
def test_where_the_head_ends(bars: int, end: int) -> None:
    assert Scene(brief(answer_bars=bars)).head_end == end


def test_an_unknown_groove_is_named() -> None:
    with pytest.raises(FieldError, match="groove"):
        Scene(brief(groove="polka"))
