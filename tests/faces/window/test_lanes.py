from __future__ import annotations

from dataclasses import replace

import pytest
from PyQt6.QtCore import QPoint, QRectF
from PyQt6.QtGui import QImage
from PyQt6.QtTest import QTest

from live.daemon.snapshot import Snapshot
from live.faces.window.lanes import SLIDE_MS, LanesPanel
from live.faces.window.panel import Look
from live.faces.window.phrases import lanes_view
from live.faces.window.theme import DARK
from tests.faces.states import IDLE, snapshot_named


def lanes(snapshot: Snapshot) -> LanesPanel:
    panel = LanesPanel(lanes_view(snapshot))
    panel.set_look(Look())
    panel.resize(420, 118)
    return panel


def image(panel: LanesPanel, ratio: float = 2.0) -> QImage:
    size = panel.size()
    picture = QImage(
        round(size.width() * ratio), round(size.height() * ratio), QImage.Format.Format_RGB32
    )
    picture.setDevicePixelRatio(ratio)
    panel.render(picture, QPoint())
    return picture


@pytest.mark.parametrize("ratio", [1.0, 1.25, 1.5, 2.0])
def test_the_playhead_is_sharp_and_runs_through_both_lanes(ratio: float) -> None:
    panel = lanes(snapshot_named("answer"))
    picture = image(panel, ratio)
    frame = panel.frame(QRectF(panel.rect()))
    middle = round(frame.x(5.2) * ratio)
    for y in (frame.call_top + 2, frame.answer_top + frame.height - 3):
        row = [picture.pixelColor(x, round(y * ratio)).name() for x in range(picture.width())]
        lit = [x for x, tone in enumerate(row) if tone == DARK.sounding]
        assert lit, "no playhead"
        assert all(abs(x - middle) <= 2 for x in lit)
        beside = {row[min(lit) - 1], row[max(lit) + 1]}
        assert beside <= {DARK.panel, DARK.line}, "a blurred edge"


def test_only_the_way_of_the_playhead_is_drawn_again() -> None:
    panel = lanes(snapshot_named("answer"))
    old = panel.view
    new = replace(old, playhead=5.4)
    frame = panel.frame(QRectF(panel.rect()))
    region = panel.changed(old, new).boundingRect()
    assert region.left() <= frame.x(5.2) - 2
    assert region.right() >= frame.x(5.4) + 2
    assert region.width() < 30
    assert panel.changed(old, replace(new, state="held")).boundingRect() == panel.rect()


def test_a_note_still_held_grows_with_the_playhead() -> None:
    panel = lanes(snapshot_named("call"))
    new = replace(panel.view, playhead=6.5)
    frame = panel.frame(QRectF(panel.rect()))
    region = panel.changed(panel.view, new).boundingRect()
    assert region.left() <= frame.x(5.5)


def test_a_new_answer_slides_in_once_and_then_rests() -> None:
    panel = lanes(IDLE)
    panel.show()
    panel.show_view(lanes_view(snapshot_named("answer")))
    assert panel.sliding
    QTest.qWait(SLIDE_MS + 150)
    assert not panel.sliding
    panel.show_view(lanes_view(replace(snapshot_named("answer"), phrase_beats=6.0)))
    assert not panel.sliding


def test_nothing_slides_when_motion_is_reduced() -> None:
    panel = lanes(IDLE)
    panel.still = True
    panel.show()
    panel.show_view(lanes_view(snapshot_named("answer")))
    assert not panel.sliding


def test_degrees_that_do_not_fit_into_a_note_stand_above_it() -> None:
    short = tuple(replace(note, length_beats=0.05) for note in IDLE.call)
    assert short == ()
    snapshot = snapshot_named("answer")
    thin = tuple(replace(note, length_beats=0.08) for note in snapshot.answer)
    wide, narrow = lanes(snapshot), lanes(replace(snapshot, answer=thin))
    ink = DARK.ink

    def inked(panel: LanesPanel) -> int:
        picture = image(panel)
        top = round(panel.frame(QRectF(panel.rect())).answer_top * 2)
        left = round(panel.frame(QRectF(panel.rect())).left * 2)
        return sum(
            picture.pixelColor(x, y).name() == ink
            for x in range(left, picture.width())
            for y in range(top, picture.height())
        )

    assert inked(wide) == 0
    assert inked(narrow) > 100


def test_screen_readers_hear_both_phrases() -> None:
    panel = lanes(IDLE)
    panel.show_view(lanes_view(snapshot_named("answer")))
    words = panel.accessibleName()
    assert words.startswith("Call: ♭3 5 4 ♭3 2 ♭3 5 ♭6 5. Answer playing: 1 1 ♭3")
    panel.show_view(lanes_view(IDLE))
    assert panel.accessibleName().startswith("Call: Play 2 bars: your first note")
