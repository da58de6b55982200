from itertools import product

import pytest

from live.notes.form import BAR_COUNTS, Form
from live.theory.errors import FieldError

ALL = [Form(call, answer) for call, answer in product(BAR_COUNTS, BAR_COUNTS)]


@pytest.mark.parametrize("form", ALL, ids=str)
def test_parts_alternate_and_cover_every_bar(form):
    laid_out = (["call"] * form.call_bars + ["answer"] * form.answer_bars) * 5
    assert [form.part_at(bar)[0] for bar in range(len(laid_out))] == laid_out
    for bar in range(len(laid_out)):
        part, start = form.part_at(bar)
        assert start <= bar
        assert laid_out[start : bar + 1] == [part] * (bar - start + 1)
        assert start == 0 or laid_out[start - 1] != part
        assert form.round_start_bar(bar) == bar // form.bars * form.bars


@pytest.mark.parametrize("bars", [0, 3, 5, 16, -1])
def test_other_lengths_are_refused_by_name(bars):
    with pytest.raises(FieldError, match="call bars"):
        Form(bars, 2)
    with pytest.raises(FieldError, match="answer bars"):
        Form(2, bars)


def test_in_words():
    assert str(Form()) == "2 + 2"
    assert str(Form(1, 8)) == "1 + 8"
    assert str(Form(free=True)) == "free"
