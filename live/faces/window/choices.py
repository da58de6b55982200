"""The answers on offer: each a small contour with two words, the chosen one outlined."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from PyQt6.QtCore import QPointF, QRectF, Qt, pyqtSignal
from PyQt6.QtGui import QPainter, QPaintEvent
from PyQt6.QtWidgets import QPushButton, QWidget

from live.daemon.snapshot import ChoiceView, Snapshot
from live.faces.window import letters
from live.faces.window.letters import Size
from live.faces.window.paint import colour, rounded
from live.faces.window.panel import Look
from live.theory.pitch import pretty

ROWS: Final = 3
_WORDS_PX: Final = 67


@dataclass(frozen=True, slots=True)
class ChoiceRow:
    """One choice: rank, two words, reasons, contour as points (0..1 across, 0..1 up).

    `beside` are the words of every row shown: all are written in one size.
    """

    rank: int
    words: tuple[str, str]
    reasons: tuple[str, ...]
    contour: tuple[tuple[float, float], ...]
    chosen: bool
    beside: tuple[str, ...] = ()


def choice_rows(snapshot: Snapshot) -> tuple[ChoiceRow, ...]:
    """Up to three choices, so placed that the chosen one is among them."""
    choices = sorted(snapshot.choices, key=lambda choice: choice.rank)
    places = [index for index, choice in enumerate(choices) if choice.rank == snapshot.chosen]
    first = max(0, places[0] - ROWS + 1) if places else 0
    shown = choices[first : first + ROWS]
    beside = tuple(pretty(word) for choice in shown for word in choice.words)
    return tuple(
        ChoiceRow(
            choice.rank,
            (pretty(choice.words[0]), pretty(choice.words[1])),
            choice.reasons,
            _contour(choice),
            choice.rank == snapshot.chosen,
            beside,
        )
        for choice in shown
    )


def size_of(words: Sequence[str], room: float, scale: float) -> Size:
    """The size in which the longest of some words fits into `room` pixels."""
    longest = max(words, key=lambda word: letters.width_of(word, Size.TEXT, scale))
    return letters.fit(longest, room, (Size.TEXT, Size.SMALL), scale, bold=False).size


def _contour(choice: ChoiceView) -> tuple[tuple[float, float], ...]:
    if not choice.notes:
        return ()
    onsets = [note.onset_beats for note in choice.notes]
    pitches = [note.pitch for note in choice.notes]
    length = max(onsets) - min(onsets) or 1.0
    span = max(pitches) - min(pitches) or 1
    return tuple(
        ((onset - min(onsets)) / length, (pitch - min(pitches)) / span)
        for onset, pitch in zip(onsets, pitches, strict=True)
    )


class ChoiceButton(QPushButton):
    """One row. Empty while there is no such choice; a press asks for it."""

    asked = pyqtSignal(int)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.row: ChoiceRow | None = None
        self.look = Look()
        self.idle_words = ""
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.clicked.connect(self._ask)
        self.setEnabled(False)

    def _ask(self) -> None:
        if self.row is not None:
            self.asked.emit(self.row.rank)

    def show_row(self, row: ChoiceRow | None) -> None:
        """Show a choice, or none."""
        if row == self.row:
            return
        self.row = row
        self.setEnabled(row is not None)
        if row is not None:
            chosen = ", chosen" if row.chosen else ""
            self.setAccessibleName(f"choice {row.rank}: {', '.join(row.words)}{chosen}")
            self.setAccessibleDescription(". ".join(row.reasons))
            self.setToolTip("\n".join(row.reasons))
        else:
            self.setAccessibleName("no choice yet")
            self.setToolTip("")
        self.update()

    def show_note(self, words: str) -> None:
        """What the row says while it is empty."""
        if words != self.idle_words:
            self.idle_words = words
            self.update()

    def set_look(self, look: Look) -> None:
        """Draw with other tones or in another size."""
        self.look = look
        self.update()

    def paintEvent(self, event: QPaintEvent | None) -> None:
        """Draw rank, contour and words."""
        del event
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        theme, box = self.look.theme, QRectF(self.rect())
        painter.fillRect(box, colour(theme.ground))
        if self.row is None:
            rounded(painter, box, self.look.px(4), theme.panel)
            self._write_idle(painter, box)
        else:
            self._draw_row(painter, box, self.row)
        painter.end()

    def _write_idle(self, painter: QPainter, box: QRectF) -> None:
        if self.look.compact:
            return
        inner = box.adjusted(self.look.px(8), 0, -self.look.px(8), 0)
        sizes = (Size.SMALL,)
        letters.write(painter, inner, self.idle_words, sizes, self.look.scale, self.look.theme.dim)

    def _draw_row(self, painter: QPainter, box: QRectF, row: ChoiceRow) -> None:
        theme, scale, px = self.look.theme, self.look.scale, self.look.px
        if row.chosen:
            edge, width = theme.answer, px(1.5)
        elif self.hasFocus() or self.underMouse():
            edge, width = theme.dim, px(1)
        else:
            edge, width = theme.line, px(1)
        rounded(painter, box, px(4), theme.panel, edge, width)
        tone = theme.ink if row.chosen else theme.dim
        if self.look.compact:
            sizes = (Size.TEXT, Size.SMALL)
            letters.write(
                painter, box, str(row.rank), sizes, scale, tone, bold=True, align="centre"
            )
            return
        rank = QRectF(box.left() + px(8), box.top(), px(14), box.height())
        letters.write(painter, rank, str(row.rank), (Size.TEXT,), scale, tone, bold=True)
        self._draw_contour(painter, box, row)
        self._write_words(painter, box, row, tone)

    def _draw_contour(self, painter: QPainter, box: QRectF, row: ChoiceRow) -> None:
        theme, px = self.look.theme, self.look.px
        place = QRectF(box.left() + px(22), box.top() + px(9), px(42), box.height() - px(18))
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(colour(theme.answer if row.chosen else theme.dim))
        for across, up in row.contour:
            middle = QPointF(
                place.left() + across * place.width(), place.bottom() - up * place.height()
            )
            painter.drawEllipse(middle, px(1.7), px(1.7))

    def _write_words(self, painter: QPainter, box: QRectF, row: ChoiceRow, tone: str) -> None:
        px, line = self.look.px, self.look.px(14)
        left = box.left() + px(_WORDS_PX)
        top = box.center().y() - line
        room, scale = box.right() - px(7) - left, self.look.scale
        size = size_of((*row.words, *row.beside), room, scale)
        for index, word in enumerate(row.words):
            place = QRectF(left, top + index * line, room, line)
            letters.write(painter, place, word, (size,), scale, tone, align="right")
