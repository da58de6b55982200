"""The window while degrees are asked: nothing in it may give the answer away."""

from __future__ import annotations

from dataclasses import replace

import pytest

from live.daemon.snapshot import HeldView
from live.faces.window.theme import THEMES, luminance, plain_tone
from live.faces.window.views import Moment, Views, views_of
from tests.faces.states import snapshot_named


def seen(name: str, **changes: object) -> Views:
    return views_of(replace(snapshot_named(name), **changes), Moment())


def test_the_question_is_the_largest_thing() -> None:
    degree = seen("drill-asking").degree
    assert (degree.label, degree.name, degree.role) == (
        "♭6",
        "submediant",
        "in any octave",
    )
    degree = seen("drill-chord").degree
    assert (degree.label, degree.name) == ("♭3", "♭3 of iv")
    assert (degree.role, degree.pull) == ("8 of 10 right", "4 in a row")


def test_the_strip_is_a_plain_keyboard_without_labels() -> None:
    strip = seen("drill-asking").strip
    assert strip.plain
    assert set(strip.labels) == {""}
    assert len(set(strip.brightness)) == 1


def test_only_the_key_that_is_down_is_labelled() -> None:
    strip = seen("drill-chord").strip
    assert {note for note, text in enumerate(strip.labels) if text} == {57}
    assert strip.labels[57] == "5"
    assert strip.moves == ()


@pytest.mark.parametrize(("pressed", "right"), [(69, 70), (75, 70), (0, 10), (127, 118), (5, 10)])
def test_after_two_tries_an_arrow_leads_to_the_nearest_right_key(pressed: int, right: int) -> None:
    held = (HeldView(pressed, pressed),)
    assert seen("drill-judging", held=held).strip.moves == ((pressed, right),)


def test_the_judgement_stands_where_the_call_would() -> None:
    lanes = seen("drill-judging").lanes
    assert lanes.call_note == "Close: A is the 5; ♭6 is B♭, a half step higher"
    assert lanes.answer_note == "Missed most: ♭6. F12 ends the drill"
    assert (lanes.names, lanes.call, lanes.answer) == (("played", "drill"), (), ())
    assert seen("drill-asking").lanes.call_note == "Play what is asked"


def test_no_answer_is_on_offer_while_degrees_are_asked() -> None:
    playing = snapshot_named("answer")
    drill = snapshot_named("drill-asking").drill
    views = views_of(replace(playing, drill=drill), Moment())
    assert (views.choices, views.lanes.answer) == ((), ())


@pytest.mark.parametrize("theme", THEMES.values(), ids=lambda theme: theme.name)
def test_white_keys_are_lighter_than_black_ones_in_every_theme(theme) -> None:
    white, black = (luminance(plain_tone(theme, black=black)) for black in (False, True))
    assert white > black


def test_by_ear_the_degree_is_a_question_and_says_where_it_is_heard() -> None:
    views = seen("drill-by-ear")
    assert (views.degree.label, views.degree.name) == ("?", "by ear")
    assert views.lanes.call_note == "The key, a rest, then the note to play"
    assert views.lanes.answer_note == "Heard on 'answer'. F6 again, F12 ends it"


@pytest.mark.parametrize("name", ["drill-by-ear", "drill-by-ear-wrong"])
def test_by_ear_no_key_is_marked_but_the_one_that_is_down(name: str) -> None:
    strip = seen(name).strip
    down = {held.pressed for held in snapshot_named(name).held}
    assert {note for note, text in enumerate(strip.labels) if text} == down
    assert (strip.lit, strip.answered, strip.moves) == (down, frozenset(), ())
    assert seen(name).lanes.answer == ()


def test_by_ear_what_was_played_is_told_and_the_weak_degree_too() -> None:
    lanes = seen("drill-by-ear-wrong").lanes
    assert lanes.call_note == "Wrong: A is the 5"
    assert lanes.answer_note == "Missed most: ♭6. F6 again, F12 ends it"


def test_again_can_be_pressed_by_ear_only() -> None:
    assert seen("drill-by-ear").foot.again
    assert not seen("drill-asking").foot.again
    assert seen("answer").foot.again
    assert not seen("idle").foot.again
