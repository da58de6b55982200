from __future__ import annotations

from dataclasses import replace

from PyQt6.QtCore import QPoint
from PyQt6.QtGui import QImage
from PyQt6.QtTest import QSignalSpy

from live.daemon.snapshot import ChoiceView, NoteView
from live.faces.window.choices import ChoiceButton, choice_rows, size_of
from live.faces.window.letters import Size
from live.faces.window.theme import DARK
from tests.faces.states import CHOICES, IDLE, snapshot_named


def test_three_choices_in_order_of_rank_with_the_chosen_one_marked() -> None:
    rows = choice_rows(replace(snapshot_named("held"), choices=CHOICES[::-1]))
    assert [row.rank for row in rows] == [1, 2, 3]
    assert [row.chosen for row in rows] == [False, True, False]


def test_of_more_than_three_the_chosen_one_is_among_those_shown() -> None:
    five = tuple(replace(CHOICES[0], rank=rank) for rank in range(1, 6))
    for chosen in range(6):
        rows = choice_rows(replace(snapshot_named("held"), choices=five, chosen=chosen))
        assert len(rows) == 3
        assert sum(row.chosen for row in rows) == (chosen > 0)


def test_the_words_of_all_rows_are_of_one_size() -> None:
    long = replace(CHOICES[1], words=("sequence", "fall to b7"))
    rows = choice_rows(replace(snapshot_named("answer"), choices=(CHOICES[0], long, CHOICES[2])))
    sizes = {size_of((*row.words, *row.beside), 52, 1.0) for row in rows}
    assert sizes == {Size.SMALL}
    usual = choice_rows(snapshot_named("answer"))
    assert {size_of((*row.words, *row.beside), 52, 1.0) for row in usual} == {Size.TEXT}


def test_contours_fill_their_box_and_follow_the_pitches() -> None:
    notes = (NoteView(0.0, 1.0, 40), NoteView(2.0, 1.0, 52), NoteView(4.0, 1.0, 46))
    choice = ChoiceView(1, 0.5, ("head", "to b3"), (), notes)
    row = choice_rows(replace(IDLE, choices=(choice,)))[0]
    assert row.contour == ((0.0, 0.0), (0.5, 1.0), (1.0, 0.5))
    assert row.words == ("head", "to ♭3")


def test_one_note_or_none_makes_no_trouble() -> None:
    for notes in ((), (NoteView(1.0, None, 40),)):
        choice = ChoiceView(1, 0.5, ("head", "up"), (), notes)
        button = ChoiceButton()
        button.show_row(choice_rows(replace(IDLE, choices=(choice,)))[0])
        button.resize(126, 36)
        button.grab()


def test_a_press_asks_for_the_rank_and_an_empty_row_asks_for_nothing() -> None:
    button = ChoiceButton()
    asked = QSignalSpy(button.asked)
    button.click()
    assert not button.isEnabled()
    button.show_row(choice_rows(snapshot_named("answer"))[1])
    button.click()
    assert list(asked) == [[2]]


def test_only_the_chosen_row_is_outlined_in_the_accent() -> None:
    for row in choice_rows(snapshot_named("answer")):
        button = ChoiceButton()
        button.resize(126, 36)
        button.show_row(row)
        picture = QImage(252, 72, QImage.Format.Format_RGB32)
        picture.setDevicePixelRatio(2)
        button.render(picture, QPoint())
        edge = [picture.pixelColor(x, 1).name() for x in range(20, 230)]
        assert (set(edge) == {DARK.answer}) == row.chosen


def test_words_and_reasons_are_there_for_screen_readers_and_as_a_tool_tip() -> None:
    button = ChoiceButton()
    button.show_row(choice_rows(snapshot_named("answer"))[0])
    assert button.accessibleName() == "choice 1: head, up to 1, chosen"
    assert button.toolTip() == "takes up the call's first notes"
