"""Call above answer on one axis, with one playhead through both."""

from __future__ import annotations

import dataclasses
from typing import Final

from PyQt6.QtCore import QEasingCurve, QRect, QRectF, QVariantAnimation
from PyQt6.QtGui import QPainter, QRegion
from PyQt6.QtWidgets import QWidget

from live.faces.window import letters
from live.faces.window.letters import Size
from live.faces.window.paint import rounded, upright
from live.faces.window.panel import Panel
from live.faces.window.phrases import Block, Frame, LanesView, are_stacked, pitch_span

SLIDE_MS: Final = 120
_SLIDE_PX: Final = 18
INSET_PX: Final = 3
"""By how much the playhead is longer than the lanes, above and below, at scale 1."""
_LEAST_PULSE_PX: Final = 9
_PLAYHEAD_PX: Final = 1.2
_BLOCK_PX: Final = 13
STACKED_PX: Final = 8.5  # two notes a minor third apart do not cover each other
_GUTTER_PX: Final = 63  # holds the longest state of the answer


class LanesPanel(Panel[LanesView]):
    """The two lanes. A new answer slides in once; nothing else moves but the playhead."""

    def __init__(self, view: LanesView, parent: QWidget | None = None) -> None:
        super().__init__(view, parent)
        self.still = False
        self._arrived = 1.0
        self._slide = QVariantAnimation(self)
        self._slide.setDuration(SLIDE_MS)
        self._slide.setStartValue(0.0)
        self._slide.setEndValue(1.0)
        self._slide.setEasingCurve(QEasingCurve.Type.OutCubic)
        self._slide.valueChanged.connect(self._step)

    @property
    def sliding(self) -> bool:
        """True while a new answer is on its way in."""
        return self._slide.state() == QVariantAnimation.State.Running

    def _step(self, value: float) -> None:
        self._arrived = value
        self.update()

    def show_view(self, view: LanesView) -> None:
        """Show another view; slides a new answer in unless motion is reduced."""
        new = bool(view.answer) and view.answer != self.view.answer
        super().show_view(view)
        if new and not self.still and self.isVisible():
            self._slide.stop()
            self._slide.start()

    def changed(self, old: LanesView, new: LanesView) -> QRegion:
        """The strip between the two playheads if only time went on, else everything."""
        if dataclasses.replace(old, playhead=new.playhead) != new:
            return super().changed(old, new)
        frame = self.frame(QRectF(self.rect()))
        places = [frame.x(v.playhead) for v in (old, new) if v.playhead is not None]
        growing = [frame.x(b.onset_beats) for b in new.call + new.answer if b.end_beats is None]
        left, right = int(min(places + growing)) - 4, int(max(places)) + 5
        return QRegion(QRect(left, 0, right - left, self.height()))

    def words(self, view: LanesView) -> str:
        """`Call: ♭3 5 4. Answer playing: 1 1 ♭3`, or the words of the empty lanes."""
        upper, lower = view.names
        call = " ".join(block.label for block in view.call) or view.call_note
        answer = " ".join(block.label for block in view.answer) or view.answer_note
        said = f"{upper.capitalize()}: {call}. {lower.capitalize()} {view.state}: {answer}"
        return said.replace(" :", ":")

    def frame(self, box: QRectF) -> Frame:
        """Geometry for the view in `box`."""
        gutter = self.look.px(_GUTTER_PX)
        gap = self.look.px(6)
        height = (box.height() - gap - 2 * self.look.px(INSET_PX)) / 2
        top = box.top() + self.look.px(INSET_PX)
        return Frame(
            left=box.left() + gutter + self.look.px(2),
            width=box.width() - gutter - self.look.px(4),
            call_top=top,
            answer_top=top + height + gap,
            height=height,
            axis_beats=self.view.axis_beats,
        )

    def draw(self, painter: QPainter, box: QRectF) -> None:
        """Draw lanes, notes and playhead."""
        view, theme = self.view, self.look.theme
        frame = self.frame(box)
        self._draw_ground(painter, frame, frame.call_top, view.call_beats)
        self._draw_ground(painter, frame, frame.answer_top, view.answer_beats)
        self._draw_names(painter, box, frame)
        self._draw_notes(painter, frame, frame.call_top, view.call, (theme.call, theme.call_ink))
        painter.save()
        painter.setOpacity(self._arrived)
        painter.translate((1 - self._arrived) * self.look.px(_SLIDE_PX), 0)
        inks = (theme.answer, theme.answer_ink)
        self._draw_notes(painter, frame, frame.answer_top, view.answer, inks)
        painter.restore()
        if view.playhead is not None:
            span = (box.top(), box.bottom())
            wide = self.look.px(_PLAYHEAD_PX)
            upright(painter, frame.x(view.playhead), span, wide, theme.sounding)
        self._draw_words(painter, frame, frame.call_top, view.call_note)
        self._draw_words(painter, frame, frame.answer_top, view.answer_note)

    def _draw_ground(self, painter: QPainter, frame: Frame, top: float, beats: float) -> None:
        """The lane as long as its part of the form, bar lines heavier than beats."""
        theme, view, pad = self.look.theme, self.view, self.look.px(2)
        right = frame.x(beats)
        lane = QRectF(frame.left - pad, top, right - frame.left + 2 * pad, frame.height)
        rounded(painter, lane, self.look.px(4), theme.panel)
        step = view.pulse_beats
        if frame.x(step) - frame.x(0) < self.look.px(_LEAST_PULSE_PX):
            step = view.bar_beats
        for index in range(1, round(beats / step)):
            at = index * step
            on_bar = abs(at / view.bar_beats - round(at / view.bar_beats)) < 1e-9
            inset = 0.0 if on_bar else self.look.px(4)
            span = (top + inset, top + frame.height - inset)
            upright(painter, frame.x(at), span, self.look.px(2) if on_bar else 1.0, theme.line)

    def _draw_names(self, painter: QPainter, box: QRectF, frame: Frame) -> None:
        theme, view, line = self.look.theme, self.view, self.look.px(13)
        width = frame.left - box.left() - self.look.px(10)
        upper, lower = view.names
        rows = (
            (upper, frame.call_top, "", view.running == "call"),
            (lower, frame.answer_top, view.state, view.running == "answer"),
        )
        for name, top, state, runs in rows:
            tone = theme.ink if runs else theme.dim
            middle = top + frame.height / 2
            first = middle - (line if state else line / 2)
            place = QRectF(box.left(), first, width, line)
            sizes = (Size.SMALL,) if self.look.compact else (Size.TEXT,)
            letters.write(
                painter, place, name, sizes, self.look.scale, tone, bold=runs, align="right"
            )
            below = place.translated(0, line)
            small = (Size.SMALL,)
            letters.write(painter, below, state, small, self.look.scale, theme.dim, align="right")

    def _draw_words(self, painter: QPainter, frame: Frame, top: float, text: str) -> None:
        """Words in an empty lane, on a plate that keeps bar lines and playhead off them."""
        if not text:
            return
        theme, scale, pad, tall = (
            self.look.theme,
            self.look.scale,
            self.look.px(6),
            self.look.px(18),
        )
        sizes = (Size.TEXT, Size.SMALL)
        room = frame.width - 2 * pad
        wide = letters.fit(text, room, sizes, scale, bold=False).width
        place = QRectF(frame.left + pad, top + (frame.height - tall) / 2, wide + 0.5, tall)
        rounded(painter, place.adjusted(-pad, 0, pad, 0), 0, theme.panel)
        letters.write(painter, place, text, sizes, scale, theme.dim)

    def _draw_notes(
        self,
        painter: QPainter,
        frame: Frame,
        top: float,
        blocks: tuple[Block, ...],
        tones: tuple[str, str],
    ) -> None:
        """Draw notes, then degrees: inside a note that is wide enough, else above it if free."""
        if not blocks:
            return
        tall = min(self.look.px(STACKED_PX if are_stacked(blocks) else _BLOCK_PX), frame.height / 3)
        span = pitch_span(blocks)
        boxes = [self._block_box(frame, top, block, (span, tall)) for block in blocks]
        halo = self.look.px(0.8)
        for box in sorted(boxes, key=QRectF.width, reverse=True):
            radius = min(self.look.px(3), box.width() / 2)
            if tall < self.look.px(_BLOCK_PX):
                edge = box.adjusted(-halo, -halo, halo, halo)
                rounded(painter, edge, radius + halo, self.look.theme.panel)
            rounded(painter, box, radius, tones[0])
        labels: list[QRectF] = []
        for block, box in zip(blocks, boxes, strict=True):
            self._draw_degree(painter, block, box, (boxes, labels), (tones[1], top))

    def _block_box(
        self, frame: Frame, top: float, block: Block, shape: tuple[tuple[int, int], float]
    ) -> QRectF:
        span, tall = shape
        now = self.view.playhead if self.view.playhead is not None else block.onset_beats
        end = max(block.onset_beats, now) if block.end_beats is None else block.end_beats
        left, right = frame.x(block.onset_beats), frame.x(end)
        gap = 1.0 if right - left > 4 else 0.0
        wide = max(2.0, right - left - gap)
        return QRectF(left, frame.block_top(top, block.pitch, span, tall), wide, tall)

    def _draw_degree(
        self,
        painter: QPainter,
        block: Block,
        box: QRectF,
        others: tuple[list[QRectF], list[QRectF]],
        ink_and_top: tuple[str, float],
    ) -> None:
        """Write the degree where it covers neither another degree nor, above, another note."""
        scale, (ink, top), (boxes, labels) = self.look.scale, ink_and_top, others
        wide = letters.width_of(block.label, Size.SMALL, scale, bold=True)
        cap = letters.cap_height(Size.SMALL, scale, bold=True)
        inside = wide + 1 <= box.width()
        place = QRectF(box.center().x() - wide / 2 - 0.5, box.center().y() - cap / 2, wide + 1, cap)
        if not inside:
            place.moveBottom(box.top() - cap * 0.3)
            if place.top() < top or any(place.intersects(other) for other in boxes):
                return
        if any(place.intersects(label) for label in labels):
            return
        labels.append(place.adjusted(-0.5, -0.5, 0.5, 0.5))
        tone = ink if inside else self.look.theme.ink
        small = (Size.SMALL,)
        letters.write(painter, place, block.label, small, scale, tone, bold=True, align="centre")
