"""Which light belongs to which key."""

from __future__ import annotations

import random

import pytest

from live.notes.light_layout import LAYOUT_RULE, parse_layout
from live.theory.errors import FieldError


def test_a_keyboard_lights_under_its_own_numbers() -> None:
    assert parse_layout("keys") == parse_layout(" Keys ") == tuple((n, n) for n in range(128))


@pytest.mark.parametrize(
    ("text", "layout"),
    [
        ("36-38", ((36, 36), (37, 37), (38, 38))),
        ("36:C3", ((36, 48),)),
        ("36:C3 37:C#3", ((36, 48), (37, 49))),
        ("11-13:C2, 21-22:G#2", ((11, 36), (12, 37), (13, 38), (21, 44), (22, 45))),
        ("0:127", ((0, 127),)),
        ("127 0", ((127, 127), (0, 0))),
    ],
)
def test_pads_are_written_out(text: str, layout: object) -> None:
    assert parse_layout(text) == layout


@pytest.mark.parametrize(
    ("text", "got"),
    [
        ("", ""),
        (" , ", " , "),
        ("pads", "pads"),
        ("128", "128"),
        ("9-3", "9-3"),
        ("120-128", "120-128"),
        ("-3", "-3"),
        ("36:", "36:"),
        ("36-99 from C2", "from"),
        ("0-10:120", "0-10:120"),
        ("36-40 38", "38 twice, in 38"),
        ("36:C3 36:D3", "36 twice, in 36:D3"),
    ],
)
def test_what_is_no_layout_is_refused_with_the_part_that_is_wrong(text: str, got: str) -> None:
    with pytest.raises(FieldError) as caught:
        parse_layout(text)
    assert (caught.value.field, caught.value.allowed) == ("layout", LAYOUT_RULE)
    assert caught.value.got == got


def test_a_note_that_is_none_is_refused_as_a_note() -> None:
    with pytest.raises(FieldError, match="note: got 'H3'"):
        parse_layout("36:H3")


def test_any_pads_written_one_by_one_are_read_back() -> None:
    rng = random.Random(6)
    for _ in range(200):
        lights = rng.sample(range(128), rng.randint(1, 128))
        layout = tuple((light, rng.randrange(128)) for light in lights)
        assert parse_layout(" ".join(f"{light}:{key}" for light, key in layout)) == layout
