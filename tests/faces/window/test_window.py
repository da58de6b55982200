"""The window without a display: what it shows and what it asks of the daemon."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PyQt6.QtCore import QPoint, QPointF, Qt
from PyQt6.QtGui import QWheelEvent
from PyQt6.QtTest import QSignalSpy, QTest
from PyQt6.QtWidgets import QApplication, QLabel, QPushButton

from live.daemon.commands import read_command
from live.daemon.snapshot import DrillView
from live.faces.window.controls import ACTIONS, VALUES, Command
from live.faces.window.layout import Box
from live.faces.window.menu import WindowMenu
from live.faces.window.remember import Memory
from live.faces.window.theme import DARK, LIGHT
from live.practice.questions import ASKS
from tests.faces.states import IDLE, snapshot_named
from tests.faces.window.desk import Desk, press


def test_the_window_itself_has_the_keyboard_at_first(desk: Desk) -> None:
    assert QApplication.focusWidget() is desk.window


def test_it_stays_on_top_and_takes_no_focus_when_shown(desk: Desk) -> None:
    flags = desk.window.windowFlags()
    assert flags & Qt.WindowType.WindowStaysOnTopHint
    assert desk.window.testAttribute(Qt.WidgetAttribute.WA_ShowWithoutActivating)


@pytest.mark.parametrize("word", ["again", "keep", "hold", "panic"])
def test_clicking_an_action_sends_it(desk: Desk, word: str) -> None:
    QTest.mouseClick(desk.window.foot.doers[word], Qt.MouseButton.LeftButton)
    assert desk.sent == [(word,)]
    assert QApplication.focusWidget() is desk.window  # a click does not take the keyboard


def test_start_is_a_word_while_our_own_clock_stands_and_stop_while_it_runs(desk: Desk) -> None:
    start = desk.window.foot.doers["start"]
    assert start.isHidden()  # an outside clock is followed
    for playing, word in ((False, "start"), (True, "stop")):
        desk.window.take_snapshot(replace(IDLE, playing=playing))
        assert (start.isHidden(), start.accessibleName()) == (False, word)
        QTest.mouseClick(start, Qt.MouseButton.LeftButton)
    assert desk.sent == [("start",), ("stop",)]


def test_keep_hold_and_again_rest_until_there_is_an_answer(desk: Desk) -> None:
    desk.window.take_snapshot(IDLE)
    doers = desk.window.foot.doers
    assert [w for w, button in doers.items() if button.isEnabled()] == ["start", "panic"]


def test_function_keys_do_what_the_words_do(desk: Desk) -> None:
    for key in (Qt.Key.Key_F6, Qt.Key.Key_F7, Qt.Key.Key_F8, Qt.Key.Key_Escape, Qt.Key.Key_F9):
        press(desk, key)
    assert desk.sent == [("again",), ("keep",), ("hold",), ("panic",), ("panic",)]


def test_figures_choose_only_among_the_choices_there_are(desk: Desk) -> None:
    press(desk, Qt.Key.Key_2)
    press(desk, Qt.Key.Key_9)
    QTest.mouseClick(desk.window.choices[2], Qt.MouseButton.LeftButton)
    assert desk.sent == [("choose", "2"), ("choose", "3")]


def test_the_computer_keyboard_plays_notes(desk: Desk) -> None:
    QTest.keyPress(desk.window, Qt.Key.Key_D)
    QTest.keyRelease(desk.window, Qt.Key.Key_D)
    assert desk.sent == [("note", "on", "64"), ("note", "off", "64")]


def test_a_window_that_goes_away_leaves_no_note_behind(desk: Desk) -> None:
    QTest.keyPress(desk.window, Qt.Key.Key_A)
    desk.window.hide()
    assert desk.sent == [("note", "on", "60"), ("note", "off", "60")]


@pytest.mark.parametrize(
    ("field", "shortcut", "text", "command"),
    [
        ("key", Qt.Key.Key_F1, "F# dorian", ("key", "F# dorian")),
        ("snap", Qt.Key.Key_F2, "chord", ("snap", "chord")),
        ("progression", Qt.Key.Key_F3, "i v", ("progression", "i v")),
        ("tempo", Qt.Key.Key_F4, "174", ("tempo", "174")),
        ("form", Qt.Key.Key_F5, "4 4", ("form", "4", "4")),
    ],
)
def test_a_value_is_edited_by_keyboard(
    desk: Desk, field: str, shortcut: Qt.Key, text: str, command: Command
) -> None:
    press(desk, shortcut)
    editor = desk.window.editing.editor
    assert editor.isVisible()
    assert desk.window.status.view.text == next(v.hint for v in VALUES if v.field == field)
    press(desk, Qt.Key.Key_unknown, text)
    press(desk, Qt.Key.Key_Return)
    assert desk.sent == [command]
    assert editor.isVisible()  # until the daemon has agreed
    desk.window.take_reply(command, {"ok": True})
    assert not editor.isVisible()
    assert QApplication.focusWidget() is desk.window


def test_a_value_is_edited_by_mouse_and_the_place_of_others_comes_back(desk: Desk) -> None:
    foot = desk.window.foot
    QTest.mouseClick(foot.values["key"], Qt.MouseButton.LeftButton)
    assert desk.window.editing.editor.text() == "D minor"
    assert not foot.values["key"].isVisible()
    desk.window.take_snapshot(replace(snapshot_named("answer"), tempo=99.0))
    assert not foot.values["key"].isVisible()
    press(desk, Qt.Key.Key_Escape)
    assert desk.sent == []
    assert all(button.isVisible() for button in foot.values.values())


def test_a_wrong_value_keeps_the_editor_open_and_shows_the_daemons_sentence(desk: Desk) -> None:
    press(desk, Qt.Key.Key_F1)
    press(desk, Qt.Key.Key_unknown, "H minor")
    press(desk, Qt.Key.Key_Return)
    desk.window.take_reply(("key", "H minor"), {"ok": False, "error": "key: got 'H minor'"})
    assert desk.window.editing.editor.isVisible()
    assert desk.window.status.view.text == "Key: got 'H minor'"
    press(desk, Qt.Key.Key_Escape)
    assert desk.window.status.view.text.startswith("Ports")
    assert desk.sent == [("key", "H minor")]


def test_while_a_value_is_typed_letters_play_nothing_and_function_keys_still_act(
    desk: Desk,
) -> None:
    press(desk, Qt.Key.Key_F1)
    press(desk, Qt.Key.Key_unknown, "a d")
    press(desk, Qt.Key.Key_F9)
    assert desk.sent == [("panic",)]


def test_the_wheel_and_the_arrows_step_a_value(desk: Desk) -> None:
    tempo = desk.window.foot.values["tempo"]
    spot = QPointF(5, 5)
    wheel = QWheelEvent(
        spot, tempo.mapToGlobal(spot), QPoint(), QPoint(0, 120), Qt.MouseButton.NoButton,
        Qt.KeyboardModifier.NoModifier, Qt.ScrollPhase.NoScrollPhase, False,
    )  # fmt: skip
    QApplication.sendEvent(tempo, wheel)
    QTest.keyClick(tempo, Qt.Key.Key_Down)
    QTest.keyClick(desk.window.foot.values["snap"], Qt.Key.Key_Up)
    assert desk.sent == [("tempo", "169.0"), ("tempo", "167.0"), ("snap", "off")]


def test_tab_goes_through_choices_and_foot_from_left_to_right(desk: Desk) -> None:
    seen = []
    for _ in range(13):
        QTest.keyClick(QApplication.focusWidget() or desk.window, Qt.Key.Key_Tab)
        widget = QApplication.focusWidget()
        assert widget is not None
        seen.append(widget)
    names = [widget.objectName() for widget in seen[3:]]
    assert seen[:3] == list(desk.window.choices)
    fields = [f"value-{value.field}" for value in VALUES]
    assert names[:9] == fields + [f"action-{a.word}" for a in ACTIONS if a.word != "start"]


@pytest.mark.parametrize("key", [Qt.Key.Key_Space, Qt.Key.Key_Return])
def test_a_word_that_has_the_keyboard_is_pressed_by_space_and_return(
    desk: Desk, key: Qt.Key
) -> None:
    keep = desk.window.foot.doers["keep"]
    keep.setFocus()
    QTest.keyClick(keep, key)
    assert desk.sent == [("keep",)]


def test_every_part_has_a_name_for_screen_readers_and_buttons_are_buttons(desk: Desk) -> None:
    window = desk.window
    parts = (window.degree, window.lanes, window.strip, window.status)
    for part in (*parts, *window.choices, *window.foot.buttons):
        assert part.accessibleName(), part.objectName()
    for button in window.foot.buttons:
        assert isinstance(button, QPushButton)
        assert button.accessibleDescription()
    assert all(isinstance(part, QLabel) for part in parts)


def test_a_panic_is_confirmed_in_words_and_then_forgotten(desk: Desk) -> None:
    before = snapshot_named("answer")
    desk.window.take_snapshot(replace(before, panics=before.panics + 1))
    assert desk.window.status.view.text == "Panic: every note released"
    assert desk.window.foot.doers["panic"].loud
    desk.window._calm.timeout.emit()
    assert not desk.window.foot.doers["panic"].loud


def test_a_panic_before_the_window_opened_is_no_news() -> None:
    desk = Desk(Memory())
    desk.window.take_snapshot(replace(IDLE, panics=7))
    assert not desk.window.foot.doers["panic"].loud


def test_the_daemon_gone_is_said_in_words_and_coming_back_undoes_it(desk: Desk) -> None:
    desk.window.take_gone("Undersong has ended")
    assert desk.window.status.view.text == "Undersong has ended"
    assert desk.window.lanes.view.call == ()
    assert desk.window.strip.view.lit == frozenset()
    assert not any(button.isVisible() for button in desk.window.foot.values.values())
    desk.window.take_snapshot(IDLE)
    assert desk.window.status.view.text.startswith("Ports")
    assert all(button.isVisible() for button in desk.window.foot.values.values())


def test_being_seen_or_not_is_told() -> None:
    desk = Desk(Memory())
    told = QSignalSpy(desk.window.visible_changed)
    desk.open()
    assert [True] in list(told)
    desk.window.hide()
    assert told[len(told) - 1] == [False]


@pytest.mark.parametrize(("name", "theme"), [("dark", DARK), ("light", LIGHT)])
def test_the_theme_is_the_one_that_was_wished_for(name: str, theme) -> None:
    desk = Desk(Memory(theme=name))
    assert desk.window.theme is theme
    desk.window.pick("theme", "light")
    assert desk.window.strip.look.theme is LIGHT
    assert desk.window.wishes().theme == "light"


def test_a_place_beyond_the_screen_is_brought_back() -> None:
    desk = Desk(Memory(box=Box(30000, 20000, 700, 300)))
    area = desk.window.screen().availableGeometry()
    desk.open()
    assert area.contains(desk.window.geometry())


def test_the_menu_names_degrees_sizes_and_wishes(desk: Desk) -> None:
    desk.window.pick("labels", "plain")
    assert desk.sent == [("labels", "plain")]
    desk.window.pick("size", "compact")
    assert desk.window.layout_now.compact
    desk.window.pick("still", "")
    assert desk.window.lanes.still
    desk.window.pick("on_top", "")
    assert not desk.window.windowFlags() & Qt.WindowType.WindowStaysOnTopHint
    assert desk.window.wishes() == replace(desk.window.memory, box=desk.window.wishes().box)


def test_the_menu_says_what_a_drill_asks_and_changes_it(desk: Desk) -> None:
    asking = replace(IDLE, drill=DrillView(asks="by ear"))
    menu = WindowMenu(Memory(), asking, desk.window.pick, desk.window)
    asks = {a.objectName(): a for a in menu.actions() if a.objectName().startswith("asks ")}
    assert set(asks) == {f"asks {one}" for one in ASKS}
    assert [name for name, action in asks.items() if action.isChecked()] == ["asks by ear"]
    asks["asks degrees"].trigger()
    command, *words = desk.sent[-1]
    assert read_command(command, words).changes == {"practice.asks": "degrees"}


def test_f6_plays_what_is_to_be_found_by_ear_again(desk: Desk) -> None:
    desk.window.take_snapshot(snapshot_named("drill-by-ear"))
    assert desk.window.foot.doers["again"].isEnabled()
    press(desk, Qt.Key.Key_F6)
    assert desk.sent == [("again",)]


def test_tones_and_place_above_others_follow_the_settings_and_the_menu_has_the_last_word() -> None:
    desk = Desk(Memory(theme="dark"))
    on_top = Qt.WindowType.WindowStaysOnTopHint
    desk.window.take_snapshot(IDLE)
    assert desk.window.theme is DARK  # nothing is set: what was chosen last
    desk.window.take_snapshot(replace(IDLE, theme="light", on_top=False))
    assert desk.window.theme is LIGHT
    assert not desk.window.windowFlags() & on_top
    desk.window.pick("theme", "dark")
    desk.window.pick("on_top", "")
    desk.window.take_snapshot(replace(IDLE, theme="light", on_top=False, tempo=171.0))
    assert desk.window.theme is DARK
    assert desk.window.windowFlags() & on_top
    assert desk.window.wishes().theme == "dark"
