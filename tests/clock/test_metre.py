import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.clock.metre import Metre, parse_metre
from live.theory.errors import FieldError


@pytest.mark.parametrize(
    ("text", "quarters"),
    # Quarter notes in a bar: upper number times 4 over lower number (common practice, no source).
    [("2/4", 2), ("3/4", 3), ("4/4", 4), ("5/4", 5), ("2/2", 4), ("3/8", 1.5), ("6/8", 3),
     ("7/8", 3.5), ("9/8", 4.5), ("12/8", 6), ("1/16", 0.25), ("32/16", 8)],
)  # fmt: skip
def test_a_bar_holds_so_many_quarter_notes(text, quarters):
    metre = parse_metre(text)
    assert metre.bar_ticks == quarters * 960
    assert metre.beat_ticks * metre.beats == metre.bar_ticks
    assert str(metre) == text


@given(st.integers(1, 32), st.sampled_from((2, 4, 8, 16)))
def test_written_and_read_again(beats, unit):
    metre = Metre(beats, unit)
    assert parse_metre(f" {beats} / {unit} ") == metre
    assert parse_metre(str(metre)) == metre


def test_common_time_is_the_default():
    assert Metre() == Metre(4, 4)


@pytest.mark.parametrize(
    "text",
    ["", "4", "4/", "/4", "4/4/4", "four/4", "4.5/4", "-4/4", "4/3", "0/4", "33/4", "4/32", "4/0",
     "9" * 6000 + "/4", "4:4", "٤/٤", "4/4 swing"],
)  # fmt: skip
def test_anything_else_is_refused_by_name(text):
    with pytest.raises(FieldError) as refused:
        parse_metre(text)
    assert refused.value.field == "metre"
    assert "4/4" in refused.value.allowed


@pytest.mark.parametrize(("beats", "unit"), [(0, 4), (33, 4), (4, 3), (-1, 8)])
def test_the_ranges_hold_without_text_too(beats, unit):
    with pytest.raises(FieldError, match="metre"):
        Metre(beats, unit)


def test_compound_metres_are_those_of_dotted_beats():
    # Common practice: 6/8, 9/8, 12/8 are compound, their beat a dotted quarter.
    texts = ("3/8", "6/8", "9/8", "12/8", "12/16", "4/4", "3/4", "6/4", "5/8", "7/8")
    assert [parse_metre(text).compound for text in texts] == [True] * 5 + [False] * 5
