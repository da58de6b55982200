from __future__ import annotations

import pytest
from PyQt6.QtCore import QEvent, Qt
from PyQt6.QtGui import QKeyEvent
from PyQt6.QtTest import QSignalSpy

from live.faces.window.controls import ACTIONS, VALUES
from live.faces.window.keys import KeyInput

NONE = Qt.KeyboardModifier.NoModifier
CONTROL = Qt.KeyboardModifier.ControlModifier


def down(key: Qt.Key, text: str = "", modifiers=NONE, *, repeat: bool = False) -> QKeyEvent:
    return QKeyEvent(QEvent.Type.KeyPress, key, modifiers, text, repeat)


def up(key: Qt.Key, text: str = "") -> QKeyEvent:
    return QKeyEvent(QEvent.Type.KeyRelease, key, NONE, text)


@pytest.mark.parametrize("value", VALUES, ids=lambda value: value.field)
def test_every_value_has_the_function_key_that_it_names(value) -> None:
    keys = KeyInput()
    asked = QSignalSpy(keys.edit_asked)
    assert keys.press(down(Qt.Key[f"Key_{value.shortcut}"]))
    assert list(asked) == [[value.field]]


@pytest.mark.parametrize("action", ACTIONS, ids=lambda action: action.word)
def test_every_action_has_the_key_that_it_names(action) -> None:
    keys = KeyInput()
    asked = QSignalSpy(keys.action_asked)
    name = {"Esc": "Escape"}.get(action.shortcut, action.shortcut)
    assert keys.press(down(Qt.Key[f"Key_{name}"]))
    assert list(asked) == [[action.word]]


def test_no_shortcut_plays_a_note_and_no_note_key_is_a_shortcut() -> None:
    keys = KeyInput()
    notes, edits, actions = (
        QSignalSpy(signal) for signal in (keys.note_on, keys.edit_asked, keys.action_asked)
    )
    for letter in "AWSEDFTGYHUJKOLP":
        assert keys.press(down(Qt.Key[f"Key_{letter}"], letter.lower()))
    assert [note for [note] in notes] == list(range(60, 76))
    assert list(edits) == list(actions) == []


def test_figures_ask_for_choices() -> None:
    keys = KeyInput()
    asked = QSignalSpy(keys.choice_asked)
    keys.press(down(Qt.Key.Key_2, "2"))
    assert list(asked) == [[2]]


def test_a_key_that_repeats_itself_does_nothing_more() -> None:
    keys = KeyInput()
    on, off = QSignalSpy(keys.note_on), QSignalSpy(keys.note_off)
    keys.press(down(Qt.Key.Key_A, "a"))
    keys.press(down(Qt.Key.Key_A, "a", repeat=True))
    keys.release(up(Qt.Key.Key_A, "a"))
    assert (list(on), list(off)) == ([[60]], [[60]])


def test_with_control_nothing_sounds() -> None:
    keys = KeyInput()
    on = QSignalSpy(keys.note_on)
    assert not keys.press(down(Qt.Key.Key_A, "a", CONTROL))
    assert list(on) == []


def test_shift_between_press_and_release_leaves_no_note_behind() -> None:
    keys = KeyInput()
    off = QSignalSpy(keys.note_off)
    keys.press(down(Qt.Key.Key_A, "a"))
    keys.release(up(Qt.Key.Key_A, "A"))
    assert list(off) == [[60]]


def test_leaving_ends_every_note() -> None:
    keys = KeyInput()
    off = QSignalSpy(keys.note_off)
    keys.press(down(Qt.Key.Key_A, "a"))
    keys.press(down(Qt.Key.Key_D, "d"))
    keys.release_all()
    keys.release(up(Qt.Key.Key_A, "a"))
    assert sorted(note for [note] in off) == [60, 64]


def test_a_note_that_mouse_and_keyboard_hold_ends_with_the_last() -> None:
    keys = KeyInput()
    on, off = QSignalSpy(keys.note_on), QSignalSpy(keys.note_off)
    keys.press(down(Qt.Key.Key_A, "a"))
    keys.hold(60)
    assert keys.release(up(Qt.Key.Key_A, "a"))
    assert (list(on), list(off)) == ([[60], [60]], [])
    keys.let_go()
    keys.let_go()
    assert list(off) == [[60]]


def test_an_unknown_key_is_left_to_others() -> None:
    assert not KeyInput().press(down(Qt.Key.Key_Q, "q"))
    assert not KeyInput().press(down(Qt.Key.Key_Tab, "\t"))
