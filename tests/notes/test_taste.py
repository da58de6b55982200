"""The controls of an answer."""

from __future__ import annotations

import pickle
from dataclasses import fields, replace

import pytest

from live.notes.taste import DIALS, ENDS, MIDDLE, SWITCH_WORDS, SWITCHES, Taste
from live.theory.errors import FieldError


def test_dials_and_switches_are_all_there_is() -> None:
    assert set(DIALS) | set(SWITCHES) == {field.name for field in fields(Taste)}
    assert not set(DIALS) & set(SWITCHES)


def test_by_itself_it_asks_for_nothing() -> None:
    asked = Taste()
    assert {getattr(asked, dial) for dial in DIALS if dial != "swing"} == {MIDDLE}
    assert asked.swing == 0.0
    assert not any(getattr(asked, switch) for switch in SWITCHES)


@pytest.mark.parametrize("dial", DIALS)
@pytest.mark.parametrize("value", [0, 0.0, 0.25, 1, 1.0])
def test_both_ends_of_a_dial_are_allowed(dial: str, value: float) -> None:
    assert getattr(replace(Taste(), **{dial: value}), dial) == value


@pytest.mark.parametrize("dial", DIALS)
@pytest.mark.parametrize(
    "value", [-0.01, 1.01, 5, float("nan"), float("inf"), True, "0.5", None], ids=repr
)
def test_a_dial_beyond_its_range_is_told(dial: str, value: object) -> None:
    with pytest.raises(FieldError, match="to 1") as told:
        replace(Taste(), **{dial: value})
    assert told.value.field == dial


@pytest.mark.parametrize("switch", SWITCHES)
@pytest.mark.parametrize("value", [0, 1, 0.5, "on", None], ids=repr)
def test_a_switch_is_off_or_on(switch: str, value: object) -> None:
    with pytest.raises(FieldError) as told:
        replace(Taste(), **{switch: value})
    assert told.value.field == switch


def test_it_crosses_process_borders() -> None:
    asked = Taste(contrast=0.2, walk_up=True)
    assert pickle.loads(pickle.dumps(asked)) == asked


def test_every_dial_and_switch_has_words() -> None:
    assert tuple(ENDS) == DIALS
    assert tuple(SWITCH_WORDS) == SWITCHES
