"""The answer's controls beside the window, moved by mouse and keyboard as a player would."""

from __future__ import annotations

from dataclasses import asdict, replace

import pytest
from PyQt6.QtCore import QPoint, Qt
from PyQt6.QtTest import QTest

from live.daemon.commands import read_command
from live.faces.window.dials import STEPS, Dial
from live.faces.window.taste import SEND_MS
from live.notes.taste import DIALS, SWITCHES, Taste
from tests.faces.states import IDLE
from tests.faces.window.desk import Desk, press


@pytest.fixture
def shaped(desk: Desk) -> Desk:
    desk.window.take_snapshot(IDLE)
    press(desk, Qt.Key.Key_F10)
    assert desk.window.taste.isVisible()
    return desk


def told(shaped: Desk) -> list[tuple[str, ...]]:
    """What has been sent once the dials' short wait is over."""
    QTest.qWait(2 * SEND_MS)
    return shaped.sent


def click(dial: Dial, share: float) -> None:
    """Press a dial at a share of its track."""
    left, right = dial.width() * 0.31, dial.width() * 0.69
    at = QPoint(round(left + share * (right - left)), dial.height() // 2)
    QTest.mouseClick(dial, Qt.MouseButton.LeftButton, pos=at)


@pytest.mark.parametrize("name", DIALS)
def test_a_dial_goes_where_it_is_pressed_and_the_daemon_takes_it(shaped: Desk, name: str) -> None:
    click(shaped.window.taste.dials[name], 0.8)
    ((command, setting, value),) = told(shaped)
    changes = read_command(command, [setting, value]).changes
    assert changes == {f"taste.{name}": pytest.approx(0.8, abs=0.02)}


@pytest.mark.parametrize("name", SWITCHES)
def test_a_switch_goes_on_and_off(shaped: Desk, name: str) -> None:
    switch = shaped.window.taste.switches[name]
    QTest.mouseClick(switch, Qt.MouseButton.LeftButton)
    assert told(shaped) == [("set", f"taste.{name}", "on")]
    assert read_command("set", [f"taste.{name}", "on"]).changes == {f"taste.{name}": True}
    QTest.mouseClick(switch, Qt.MouseButton.LeftButton)
    assert told(shaped)[1:] == [("set", f"taste.{name}", "off")]


def test_while_a_dial_moves_it_is_told_now_and_then_and_at_the_end(shaped: Desk) -> None:
    dial = shaped.window.taste.dials["density"]
    for value in range(STEPS // 2, STEPS + 1):
        dial.setValue(value)
    assert told(shaped) == [("set", "taste.density", "1")]


def test_twice_puts_a_dial_back(shaped: Desk) -> None:
    dial = shaped.window.taste.dials["swing"]
    shaped.window.take_snapshot(replace(IDLE, taste=Taste(swing=0.7)))
    assert dial.value() == 70
    QTest.mouseDClick(dial, Qt.MouseButton.LeftButton)
    assert told(shaped)[-1] == ("set", "taste.swing", "0")


def test_what_the_daemon_says_is_shown_and_not_said_again(shaped: Desk) -> None:
    taste = Taste(0.1, 0.2, 0.3, 0.4, 0.6, 0.7, 0.8, 0.9, walk_up=True)
    shaped.window.take_snapshot(replace(IDLE, taste=taste))
    shown = {name: dial.value() / STEPS for name, dial in shaped.window.taste.dials.items()}
    on = {name: switch.isChecked() for name, switch in shaped.window.taste.switches.items()}
    assert shown | on == asdict(taste)
    assert told(shaped) == []


def test_a_dial_that_is_held_is_not_pulled_away(shaped: Desk) -> None:
    dial = shaped.window.taste.dials["length"]
    QTest.mousePress(dial, Qt.MouseButton.LeftButton, pos=dial.rect().center())
    dial.setValue(90)
    shaped.window.take_snapshot(replace(IDLE, taste=Taste(length=0.2)))
    assert dial.value() == 90
    QTest.mouseRelease(dial, Qt.MouseButton.LeftButton)


def test_arrows_move_the_dial_in_focus_and_notes_and_panic_still_play(shaped: Desk) -> None:
    dial = shaped.window.taste.dials["contrast"]
    dial.setFocus()
    QTest.keyClick(dial, Qt.Key.Key_Right)
    assert told(shaped) == [("set", "taste.contrast", "0.55")]
    QTest.keyClick(dial, Qt.Key.Key_A)
    assert shaped.sent[1:] == [("note", "on", "60"), ("note", "off", "60")]
    QTest.keyClick(dial, Qt.Key.Key_Escape)
    assert shaped.sent[-1] == ("panic",)


def test_the_same_key_puts_it_away_and_without_a_daemon_it_stays_away(shaped: Desk) -> None:
    QTest.keyClick(shaped.window.taste, Qt.Key.Key_F10)
    assert not shaped.window.taste.isVisible()
    shaped.window.take_gone("no Undersong is running here")
    QTest.keyClick(shaped.window, Qt.Key.Key_F10)
    assert not shaped.window.taste.isVisible()


def test_it_goes_when_the_daemon_goes(shaped: Desk) -> None:
    shaped.window.take_gone("no Undersong is running here")
    assert not shaped.window.taste.isVisible()
