from __future__ import annotations

import pytest

from live.daemon.settings import settings_path
from live.faces.values import read_key, seconds, seed_number, whole_number
from live.theory.errors import FieldError


def test_whole_numbers_inside_the_range_are_read():
    assert [whole_number("bars", text, 1, 16) for text in ("1", "16", " 4 ")] == [1, 16, 4]


@pytest.mark.parametrize("text", ["0", "17", "-1", "2.5", "", "two", "1e1", "nan", "９９"])
def test_other_numbers_are_refused_with_field_range_and_value(text):
    with pytest.raises(FieldError) as caught:
        whole_number("bars", text, 1, 16)
    assert str(caught.value) == f"bars: got {text!r}; allowed: a whole number from 1 to 16"


@pytest.mark.parametrize("text", ["nan", "inf", "-1", "", "soon", "1e400"])
def test_seconds_refuse_what_is_no_length(text):
    with pytest.raises(FieldError):
        seconds("for", text, 0.0, 100.0)


def test_seconds_and_seeds():
    assert seconds("for", "2.5", 0.0, 100.0) == 2.5
    assert seed_number("-3") == -3
    with pytest.raises(FieldError):
        seed_number(str(2**63))


def test_a_huge_number_is_refused_not_crashed_on():
    # CPython refuses to read numbers of more than 4300 digits with a ValueError of its own.
    with pytest.raises(FieldError):
        whole_number("seed", "9" * 5000, 1, 16)


@pytest.fixture
def own_settings(monkeypatch, tmp_path):
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    settings_path().parent.mkdir(parents=True)
    return settings_path()


def test_a_key_in_a_scale_of_the_settings(own_settings):
    own_settings.write_text('[[scale]]\nname = "foghorn"\nsteps = [0, 1, 5]\n')
    assert read_key("D foghorn").name == "D foghorn [0 1 5]"
    assert read_key("d minor").name == "D minor"
    with pytest.raises(FieldError, match="did you mean foghorn"):
        read_key("D foghron")


def test_broken_settings_are_not_the_answer_to_a_wrong_key(own_settings):
    own_settings.write_text("[play]\ntempo = 1\n")
    with pytest.raises(FieldError, match=r"^key: got 'D foghorn'"):
        read_key("D foghorn")
