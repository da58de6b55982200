"""The strip: a keyboard picture in which brightness tells how much at home each degree is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from PyQt6.QtCore import QRect, QRectF, Qt, pyqtSignal
from PyQt6.QtGui import QMouseEvent, QPainter, QRegion, QResizeEvent
from PyQt6.QtWidgets import QWidget

from live.daemon.snapshot import Snapshot
from live.faces.window import letters, music
from live.faces.window.arrow import draw_move
from live.faces.window.keyboard import (
    USUAL_LOW,
    KeyBox,
    is_black,
    key_at,
    keys,
    octaves_for,
    shift,
)
from live.faces.window.letters import Size
from live.faces.window.paint import crisp, rounded
from live.faces.window.panel import Look, Panel
from live.faces.window.theme import best_ink, key_tone, plain_tone

_LEAST_KEY_PX: Final = 18
_BAR_PX: Final = 6


@dataclass(frozen=True, slots=True)
class StripView:
    """What the strip shows: 128 degree labels, 12 brightnesses (C first), and what goes on.

    Args:
        held: keys that are down. lit: notes that sound through. answered: notes of the answer.
        moves: (pressed, sounding) of each key whose note differs; sounding None is silent.
        plain: white keys and black ones, and no word of what is at home.
    """

    labels: tuple[str, ...]
    brightness: tuple[float, ...]
    held: frozenset[int] = frozenset()
    lit: frozenset[int] = frozenset()
    answered: frozenset[int] = frozenset()
    moves: tuple[tuple[int, int | None], ...] = ()
    plain: bool = False


def strip_view(snapshot: Snapshot) -> StripView:
    """The strip of a snapshot."""
    return StripView(
        labels=music.degree_labels(snapshot.key, snapshot.labels),
        brightness=music.key_brightness(snapshot.key),
        held=frozenset(held.pressed for held in snapshot.held),
        lit=frozenset(snapshot.sounding),
        answered=frozenset(snapshot.answer_sounding),
        moves=tuple((h.pressed, h.sounding) for h in snapshot.held if h.sounding != h.pressed),
    )


class StripPanel(Panel[StripView]):
    """The keyboard picture. Pressing a key of it with the mouse plays the key."""

    pressed = pyqtSignal(int)
    released = pyqtSignal(int)

    def __init__(self, view: StripView, parent: QWidget | None = None) -> None:
        super().__init__(view, parent)
        self.low = USUAL_LOW
        self.boxes: tuple[KeyBox, ...] = ()
        self._under_mouse: int | None = None

    def set_look(self, look: Look) -> None:
        """Draw with other tones or in another size."""
        super().set_look(look)
        self._place_keys()

    def resizeEvent(self, event: QResizeEvent | None) -> None:
        """Place the keys anew."""
        super().resizeEvent(event)
        self._place_keys()

    def _octaves(self) -> int:
        return octaves_for(self.width(), self.look.px(_LEAST_KEY_PX))

    def _place_keys(self) -> None:
        octaves = self._octaves()
        self.low = min(max(self.low, 0), 12 * (10 - octaves))
        self.low = shift(self.low, octaves, self.view.held | self.view.lit)
        self.boxes = keys(self.low, octaves, self.width(), self.height())
        self.update()

    def show_view(self, view: StripView) -> None:
        """Show another view; moves by whole octaves if a key that sounds is out of sight."""
        super().show_view(view)
        low = shift(self.low, self._octaves(), view.held | view.lit)
        if low != self.low:
            self.low = low
            self._place_keys()

    def changed(self, old: StripView, new: StripView) -> QRegion:
        """The keys whose state differs; everything when labels, brightness or arrows differ."""
        static = (old.labels, old.brightness, old.moves, old.plain)
        if static != (new.labels, new.brightness, new.moves, new.plain):
            return super().changed(old, new)
        notes = (old.held ^ new.held) | (old.lit ^ new.lit) | (old.answered ^ new.answered)
        region = QRegion()
        shown = {box.note for box in self.boxes}
        for box in self.boxes:
            if box.note in notes:
                region += QRegion(QRect(int(box.x) - 2, 0, int(box.width) + 5, self.height()))
        return region if notes <= shown else super().changed(old, new)

    def words(self, view: StripView) -> str:
        """`Keyboard. Sounding ♭3. Answer 1`."""
        parts = ["Keyboard"]
        for name, notes in (("Sounding", view.lit), ("Answer", view.answered)):
            if notes:
                parts.append(f"{name} {' '.join(view.labels[note] for note in sorted(notes))}")
        return ". ".join(parts)

    def draw(self, painter: QPainter, box: QRectF) -> None:
        """Draw keys, bars, labels, then what moved, then what lies out of sight."""
        for key in self.boxes:
            self._draw_key(painter, key)
        places = {key.note: key for key in self.boxes}
        for source, target in self.view.moves:
            if source in places:
                lit = places.get(target) if target is not None else None
                draw_move(painter, places[source], lit, self.look, silent=target is None)
        self._draw_out_of_sight(painter, box)

    def tone_of(self, note: int) -> str:
        """The tone of a key as it is drawn."""
        if note in self.view.lit:
            return self.look.theme.sounding
        if self.view.plain:
            return plain_tone(self.look.theme, black=is_black(note))
        return key_tone(self.look.theme, self.view.brightness[note % 12])

    def _draw_key(self, painter: QPainter, key: KeyBox) -> None:
        theme, view = self.look.theme, self.view
        gap = 0.5
        shape = QRectF(key.x + gap, -4, key.width - 2 * gap, key.height + 4)
        shape = crisp(painter, shape)
        radius, tone = self.look.px(3), self.tone_of(key.note)
        outside = view.brightness[key.note % 12] <= 0 and key.note not in view.lit
        if key.black:
            rounded(painter, shape.adjusted(-1, 0, 1, 1), radius, theme.ground)
        rounded(painter, shape, radius, tone, theme.line if outside else None)
        self._draw_bars(painter, key, shape)
        if not outside:
            self._draw_label(painter, key, shape, tone)

    def _draw_bars(self, painter: QPainter, key: KeyBox, shape: QRectF) -> None:
        """A call bar under a key that is down; an accent bar under a key the answer plays."""
        theme, tall = self.look.theme, self.look.px(_BAR_PX)
        bottom = shape.bottom() - self.look.px(2)
        bars = (
            (key.note in self.view.answered, theme.answer),
            (key.note in self.view.held, theme.call),
        )
        for shown, tone in bars:
            if shown:
                edge = best_ink(self.tone_of(key.note))
                bar = QRectF(shape.left() + 1.5, bottom - tall, shape.width() - 3, tall)
                rounded(painter, bar, tall / 2, tone, edge if tone == theme.call else None, 0.6)
                bottom -= tall + 1

    def _draw_label(self, painter: QPainter, key: KeyBox, shape: QRectF, tone: str) -> None:
        label, lit = self.view.labels[key.note], key.note in self.view.lit
        sizes = (Size.HEAD, Size.TEXT, Size.SMALL)[2 if key.black else 0 if lit else 1 :]
        scale, line = self.look.scale, self.look.px(14)
        lift = self.look.px(17 if not key.black else 14)
        place = QRectF(key.x, shape.bottom() - lift - line / 2, key.width, line)
        if letters.fit(label, place.width(), sizes, scale, bold=True).cut:
            return
        ink = best_ink(tone)
        letters.write(painter, place, label, sizes, scale, ink, bold=True, align="centre")

    def _draw_out_of_sight(self, painter: QPainter, box: QRectF) -> None:
        """At either end, the degree of a note that lies beyond the keys shown."""
        first, last = self.boxes[0].note, max(key.note for key in self.boxes)
        theme, view = self.look.theme, self.view
        for notes, tone, ink, row in (
            (view.answered, theme.answer, theme.answer_ink, 1),
            (view.lit, theme.sounding, best_ink(theme.sounding), 0),
        ):
            for note in notes:
                if first <= note <= last:
                    continue
                label = f"‹ {view.labels[note]}" if note < first else f"{view.labels[note]} ›"
                self._draw_flag(painter, box, (label, note < first, row), (tone, ink))

    def _draw_flag(
        self,
        painter: QPainter,
        box: QRectF,
        what: tuple[str, bool, int],
        tones: tuple[str, str],
    ) -> None:
        label, at_left, row = what
        scale, tall = self.look.scale, self.look.px(15)
        wide = letters.width_of(label, Size.SMALL, scale, bold=True) + self.look.px(8)
        left = box.left() if at_left else box.right() - wide
        flag = QRectF(left, box.top() + self.look.px(3) + row * (tall + 2), wide, tall)
        rounded(painter, flag, self.look.px(3), tones[0], self.look.theme.ground, 1.5)
        letters.write(
            painter, flag, label, (Size.SMALL,), scale, tones[1], bold=True, align="centre"
        )

    def mousePressEvent(self, event: QMouseEvent | None) -> None:
        """Play the key under the mouse."""
        if event is not None and event.button() == Qt.MouseButton.LeftButton:
            self._play_at(event)

    def mouseMoveEvent(self, event: QMouseEvent | None) -> None:
        """Slide from key to key."""
        if event is not None and event.buttons() & Qt.MouseButton.LeftButton:
            self._play_at(event)

    def mouseReleaseEvent(self, event: QMouseEvent | None) -> None:
        """Let the key go."""
        del event
        self.release_mouse_key()

    def _play_at(self, event: QMouseEvent) -> None:
        note = key_at(self.boxes, event.position().x(), event.position().y())
        if note != self._under_mouse:
            self.release_mouse_key()
            if note is not None:
                self._under_mouse = note
                self.pressed.emit(note)

    def release_mouse_key(self) -> None:
        """Release the key that the mouse plays, if any."""
        if self._under_mouse is not None:
            note, self._under_mouse = self._under_mouse, None
            self.released.emit(note)
