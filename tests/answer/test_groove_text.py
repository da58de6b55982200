"""Grooves written out as rows: read back, and refused in words."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.answer.groove_text import WRITTEN, is_written, parse_groove, written
from live.answer.grooves import DRUMS, GROOVES, Groove, find_groove
from live.clock.metre import Metre
from live.theory.errors import FieldError


def test_the_two_step_written_out() -> None:
    found = find_groove("kick x.........x..... snare ....x.......x... hat x.x.x.x.x.x.x.x.")
    shipped = find_groove("two-step")
    assert all(found.strokes(drum) == shipped.strokes(drum) for drum in DRUMS)
    assert (found.bars, found.metre, found.swing) == (1, Metre(4, 4), 1.0)


def test_ghosts_metre_triplets_swing_and_bar_lines() -> None:
    found = parse_groove(
        "swing 1.5 3/4 Kick X.....|......|X.......|.... snare ....x.o.....xx....o....."
    )
    assert found.bars == 2
    assert (found.kick, found.snare, found.ghost) == ((0, 12), (4, 12, 13), (6, 18))
    assert (found.metre, found.swing) == (Metre(3, 4), 1.5)
    shuffle = parse_groove("triplets ride x.xx.xx.xx.x")
    assert (shuffle.bars, shuffle.bar_length, shuffle.step_ticks) == (1, 12, 320)
    assert shuffle.bar_steps("ride", 0, 3840)[:3] == (0, 640, 960)


@pytest.mark.parametrize("groove", GROOVES, ids=lambda g: g.name)
def test_every_groove_can_be_written_and_read_back(groove: Groove) -> None:
    again = find_groove(written(groove))
    assert again == replace(groove, name=WRITTEN, source=again.source)


def steps(count: int) -> st.SearchStrategy[tuple[int, ...]]:
    return st.sets(st.integers(0, count - 1)).map(lambda found: tuple(sorted(found)))


@st.composite
def grooves(draw: st.DrawFn) -> Groove:
    metre = draw(st.sampled_from((Metre(4, 4), Metre(3, 4), Metre(6, 8), Metre(12, 8))))
    step_ticks = 240 if metre.compound else draw(st.sampled_from((240, 320)))
    count = draw(st.integers(1, 8)) * metre.bar_ticks // step_ticks
    rows = {drum: draw(steps(count)) for drum in DRUMS}
    rows["ghost"] = tuple(step for step in rows["ghost"] if step not in rows["snare"])
    return Groove(
        "any",
        steps=count,
        source="",
        metre=metre,
        step_ticks=step_ticks,
        swing=draw(st.sampled_from((1.0, 1.2, 1.5, 2.0))),
        swung_ticks=draw(st.sampled_from((240, 480))),
        **rows,
    )


@given(grooves())
def test_any_groove_comes_back_from_its_text(groove: Groove) -> None:
    text = written(groove)
    assert is_written(text)
    again = parse_groove(text)
    assert again == replace(groove, name=again.name, source=again.source)


@pytest.mark.parametrize(
    ("text", "field"),
    [
        ("kick x...", "groove"),
        ("kick x.........x..... snare ....x...", "groove"),
        ("kick x............... kick x...............", "groove"),
        ("kick x.........o.....", "groove"),
        ("cowbell x.........x.....", "groove"),
        ("x.........x.....", "groove"),
        ("kick " + "x..............." * 9, "groove"),
        ("triplets 7/16 kick x.", "groove"),
        ("99/4 kick x.", "metre"),
        ("swing much kick x...............", "swing"),
        ("swing 9 kick x...............", "swing"),
        ("kick x............... swing", "groove"),
    ],
)
def test_what_cannot_be_read_is_refused_in_words(text: str, field: str) -> None:
    with pytest.raises(FieldError) as caught:
        find_groove(text)
    assert caught.value.field == field


@given(st.text(alphabet="kicksnare x.o|/0123456789\n", max_size=60))
def test_any_text_is_a_groove_or_a_field_error(text: str) -> None:
    try:
        found = find_groove(text)
    except FieldError:
        return
    assert found.steps >= 1
