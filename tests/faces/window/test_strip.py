"""The strip by its pixels: what is drawn, not what was meant."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PyQt6.QtCore import QPoint, Qt
from PyQt6.QtGui import QImage
from PyQt6.QtTest import QSignalSpy, QTest

from live.daemon.snapshot import HeldView, Snapshot
from live.faces.window.keyboard import KeyBox
from live.faces.window.panel import Look
from live.faces.window.strip import StripPanel, strip_view
from live.faces.window.theme import DARK, LIGHT, THEMES, Theme, best_ink, luminance
from tests.faces.states import IDLE, snapshot_named

BOTH = pytest.mark.parametrize("theme", THEMES.values(), ids=THEMES.keys())


def strip(snapshot: Snapshot, theme: Theme = DARK, width: int = 724) -> StripPanel:
    panel = StripPanel(strip_view(IDLE))
    panel.set_look(Look(theme))
    panel.resize(width, 88)
    panel.show()
    panel.show_view(strip_view(snapshot))
    return panel


def image(panel: StripPanel) -> QImage:
    picture = QImage(panel.size() * 2, QImage.Format.Format_RGB32)
    picture.setDevicePixelRatio(2)
    panel.render(picture, QPoint())
    return picture


def key(panel: StripPanel, note: int) -> KeyBox:
    return next(box for box in panel.boxes if box.note == note)


def tone_at(picture: QImage, x: float, y: float) -> str:
    return picture.pixelColor(round(x * 2), round(y * 2)).name()


def body_tone(panel: StripPanel, picture: QImage, note: int) -> str:
    """The tone of a key where neither label nor bar nor another key is."""
    box = key(panel, note)
    if box.black:
        return tone_at(picture, box.x + box.width / 2, box.height * 0.25)
    return tone_at(picture, box.x + 3, box.height * 0.68)


@BOTH
def test_a_sounding_key_is_the_brightest_of_all(theme: Theme) -> None:
    panel = strip(replace(IDLE, held=(HeldView(65, 65),), sounding=(65,)), theme)
    picture = image(panel)
    assert body_tone(panel, picture, 65) == theme.sounding
    others = [luminance(body_tone(panel, picture, b.note)) for b in panel.boxes if b.note != 65]
    extreme = max(others) if theme is DARK else min(others)
    assert len(others) == 60
    if theme is DARK:
        assert luminance(theme.sounding) > extreme
    else:
        assert luminance(theme.sounding) < extreme


@BOTH
def test_resting_brightness_follows_how_much_at_home_a_degree_is(theme: Theme) -> None:
    # Krumhansl & Kessler 1982, minor profile: tonic above mediant above dominant above
    # submediant above the others (order from memory of the published figure).
    panel = strip(IDLE, theme)
    picture = image(panel)
    lights = [luminance(body_tone(panel, picture, note)) for note in (62, 65, 69, 70, 60)]
    assert lights == sorted(lights, reverse=theme is DARK)
    assert len(set(lights)) == len(lights)


@BOTH
def test_outside_keys_fall_back_to_the_ground_with_a_hairline(theme: Theme) -> None:
    panel = strip(IDLE, theme)
    picture = image(panel)
    for note in (61, 63, 66, 68, 71):
        assert body_tone(panel, picture, note) == theme.ground
    box = key(panel, 66)
    row = [tone_at(picture, box.x + step / 4, 20) for step in range(round(box.width * 4))]
    assert theme.line in row


@BOTH
def test_a_held_key_has_a_call_bar_and_an_answering_key_an_accent_bar(theme: Theme) -> None:
    snapshot = replace(IDLE, held=(HeldView(65, 65),), sounding=(65,), answer_sounding=(38,))
    panel = strip(snapshot, theme)
    picture = image(panel)

    def bar_tone(note: int) -> str:
        box = key(panel, note)
        return tone_at(picture, box.x + box.width / 2, box.height - 5)

    assert bar_tone(65) == theme.call
    assert bar_tone(38) == theme.answer
    assert bar_tone(62) == body_tone(panel, picture, 62)


def accents(picture: QImage, theme: Theme) -> int:
    """Device pixels in the accent."""
    tones = [
        picture.pixelColor(x, y).name()
        for x in range(picture.width())
        for y in range(picture.height())
    ]
    return sum(tone == theme.answer for tone in tones)


@BOTH
def test_the_accent_is_seen_only_when_the_bass_answers(theme: Theme) -> None:
    moved = snapshot_named("moved")
    assert moved.answer_sounding
    assert accents(image(strip(moved, theme)), theme) > 50
    assert accents(image(strip(replace(moved, answer_sounding=()), theme)), theme) == 0


@BOTH
def test_a_moved_key_has_a_ring_and_the_sounding_key_an_arrow_in_its_own_ink(theme: Theme) -> None:
    still = replace(IDLE, held=(HeldView(65, 65),), sounding=(65,))
    moved = replace(IDLE, held=(HeldView(66, 65),), sounding=(65,))
    before, after = image(strip(still, theme)), image(strip(moved, theme))
    panel = strip(moved, theme)
    pressed, sounding = key(panel, 66), key(panel, 65)

    def changed(box: KeyBox, span: tuple[float, float], tone: str) -> int:
        xs = range(round(box.x * 2), round((box.x + box.width) * 2))
        ys = range(round(span[0] * 2), round(span[1] * 2))
        return sum(
            after.pixelColor(x, y).name() == tone != before.pixelColor(x, y).name()
            for x in xs
            for y in ys
        )

    assert changed(pressed, (10, 40), theme.ink) > 20  # the ring
    inner = replace_width(sounding, pressed.x - sounding.x)
    assert changed(inner, (45, 62), best_ink(theme.sounding)) > 10  # the arrow's head


def replace_width(box: KeyBox, width: float) -> KeyBox:
    return KeyBox(box.note, box.x, width, box.height, box.black)


def test_a_silent_key_has_a_ring_and_nothing_else_lights_up() -> None:
    panel = strip(replace(IDLE, held=(HeldView(66, None),)))
    picture = image(panel)
    assert body_tone(panel, picture, 65) != DARK.sounding
    assert strip_view(replace(IDLE, held=(HeldView(66, None),))).moves == ((66, None),)


def test_only_the_keys_that_changed_are_drawn_again() -> None:
    panel = strip(IDLE)
    old = strip_view(IDLE)
    new = strip_view(replace(IDLE, held=(HeldView(65, 65),), sounding=(65,)))
    region = panel.changed(old, new).boundingRect()
    box = key(panel, 65)
    assert region.left() <= box.x
    assert region.right() >= box.x + box.width
    assert region.width() < box.width + 8


def test_a_key_out_of_sight_is_brought_into_sight_by_octaves() -> None:
    panel = strip(IDLE, width=456)
    assert {box.note for box in panel.boxes} == set(range(24, 61))
    panel.show_view(strip_view(replace(IDLE, held=(HeldView(70, 70),), sounding=(70,))))
    assert 70 in {box.note for box in panel.boxes}
    assert panel.low % 12 == 0


def test_an_answer_out_of_sight_is_named_at_the_edge() -> None:
    snapshot = replace(IDLE, held=(HeldView(84, 84),), sounding=(84,), answer_sounding=(38,))
    panel = strip(snapshot, LIGHT, width=456)
    assert 38 not in {box.note for box in panel.boxes}
    assert accents(image(panel), LIGHT) > 100


def test_pressing_a_key_with_the_mouse_plays_it_until_let_go() -> None:
    panel = strip(IDLE)
    pressed, released = QSignalSpy(panel.pressed), QSignalSpy(panel.released)
    box = key(panel, 62)
    spot = QPoint(round(box.x + box.width / 2), 75)
    QTest.mousePress(panel, Qt.MouseButton.LeftButton, pos=spot)
    assert list(pressed) == [[62]]
    assert list(released) == []
    QTest.mouseRelease(panel, Qt.MouseButton.LeftButton, pos=spot)
    assert list(released) == [[62]]


def test_screen_readers_hear_degrees() -> None:
    panel = strip(snapshot_named("moved"))
    assert panel.accessibleName() == "Keyboard. Sounding ♭3. Answer 5"
