from __future__ import annotations

import pytest

from live.theory.degrees import degree_of
from live.theory.errors import FieldError
from live.theory.keys import Key, parse_key
from live.theory.own_scales import find_twice, own_scale, read_scale, written
from live.theory.pitch import parse_spelling
from live.theory.scales import SCALES, Scale, find_scale
from live.theory.snap import snap_map

FOGHORN = own_scale("foghorn", [0, 1, 5, 6, 10, 11])


@pytest.mark.parametrize(
    ("given", "steps"),
    [
        ([0, 7], (0, 7)),
        ([0, 5, 3, 10, 7], (0, 3, 5, 7, 10)),  # out of order
        ([0, 2, 2, 7, 0], (0, 2, 7)),  # repeats
        ([0, 2, 4, 7, 9, 12], (0, 2, 4, 7, 9)),  # with the octave
        (list(range(12)), tuple(range(12))),
    ],
)
def test_steps_that_are_clear_are_accepted(given, steps):
    assert own_scale("foghorn 2", given).steps == steps


@pytest.mark.parametrize(
    "given",
    [
        *([], [0], [0, 12], [2, 4, 7], [5, 12], [0, 13], [0, -1]),
        *([0, 1.5], [0, "2"], [0, True], [0, None]),
    ],
)
def test_bad_steps_say_what_is_allowed(given):
    with pytest.raises(FieldError, match="2 to 12 different whole numbers from 0") as caught:
        own_scale("foghorn", given)
    assert caught.value.field == "scale steps"
    assert caught.value.got == given


@pytest.mark.parametrize(
    "name", ["", "  ", "a" * 33, "[x]", "-x", "line\nbreak", "sharp thing", "Flat out", 5, None]
)
def test_bad_names_say_what_is_allowed(name):
    with pytest.raises(FieldError, match="letters, digits") as caught:
        own_scale(name, [0, 3, 7])
    assert caught.value.field == "scale name"
    assert caught.value.got == name


def test_a_known_name_keeps_its_meaning():
    with pytest.raises(FieldError, match="not the name of another"):
        own_scale("Dorian", [0, 1, 2])
    assert own_scale("Dorian", [0, 2, 3, 5, 7, 9, 10]) is find_scale("dorian")


@pytest.mark.parametrize("text", ["D foghorn", "d FOGHORN", "  D  foghorn ", "D-foghorn"])
def test_a_key_in_a_scale_of_ones_own(text):
    key = parse_key(text, [FOGHORN])
    assert key == Key(parse_spelling("D"), FOGHORN)
    assert key.name == "D foghorn [0 1 5 6 10 11]"
    assert key.pretty == "D foghorn"


def test_names_that_look_like_signs():
    for name in ("xenon", "b side", "x"):
        scale = own_scale(name, [0, 3, 7])
        assert parse_key(f"D {name}", [scale]).scale == scale
        assert parse_key(f"Bb {name}", [scale]).scale == scale


@pytest.mark.parametrize("tonic", ["C", "F#", "Gb", "B", "Bb", "E#", "Cb"])
@pytest.mark.parametrize("scale", [FOGHORN, own_scale("two", [0, 7]), Scale("x 9", (0, 4, 8))])
def test_a_written_key_is_read_again_without_the_settings(tonic, scale):
    key = Key(parse_spelling(tonic), scale)
    assert parse_key(key.name) == key


def test_steps_alone():
    assert parse_key("D [0 2 3 5 7 9 10]").name == "D dorian"
    assert parse_key("D[0,10,2,3,5,7,9]").name == "D dorian"
    assert parse_key("F♯ [0 1 2]").name == "F# own scale [0 1 2]"
    assert parse_key("F# own scale [0 1 2]") == parse_key("F# [0 1 2]")


@pytest.mark.parametrize(
    "text", ["D [1 2]", "D []", "D [0 x]", "D [0 13]", "D [0]", "D x [0 99999]", "D [0 3] x"]
)
def test_a_bad_written_scale_says_what_is_allowed(text):
    with pytest.raises(FieldError, match=r"^key") as caught:
        parse_key(text)
    assert caught.value.got == text


def test_an_unknown_name_is_compared_with_ones_own():
    with pytest.raises(FieldError, match="did you mean foghorn"):
        parse_key("D foghonr", [FOGHORN])


def test_written_names_every_known_scale_plainly():
    for scale in SCALES:
        assert written(scale) == scale.name
        assert read_scale(written(scale)) == scale


def test_a_known_name_on_other_steps_is_written_so_that_nobody_takes_it_for_the_known_one():
    impostor = Scale("dorian", (0, 1))
    assert written(impostor) == "dorian [0 1]"
    with pytest.raises(FieldError, match="not the name of another"):
        read_scale(written(impostor))


def test_find_twice():
    other = own_scale("Fog-horn", [0, 1])
    assert find_twice([FOGHORN, other]) is None
    again = own_scale("FOGHORN", [0, 1])
    assert find_twice([FOGHORN, other, again]) == again


@pytest.mark.parametrize("size", range(2, 13))
def test_every_size_can_be_played(size):
    scale = own_scale("any size", range(size))
    key = Key(parse_spelling("Bb"), scale)
    for note in range(128):
        snapped = snap_map(key, "nearest").snap(note, None)
        assert key.contains(snapped)
        assert degree_of(note, key).in_scale == key.contains(note)
        assert key.spell(note).pitch_class == note % 12
