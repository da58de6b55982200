"""The degree now: which one sounds, what it does, and where it tends to go."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

from PyQt6.QtCore import QRectF
from PyQt6.QtGui import QPainter

from live.daemon.snapshot import HeldView, Snapshot
from live.faces.window import letters, music
from live.faces.window.letters import Size
from live.faces.window.panel import Panel


@dataclass(frozen=True, slots=True)
class DegreeView:
    """What the panel shows.

    Args:
        label: the degree, `♭3`; "" shows `name` and `role` as a sentence in two lines.
        others: degrees that sound with it, highest first.
        name: note and function. role: part in the chord. pull: its family and tendency.
        moved: how the key pressed differs from the note that sounds, "" if it does not.
        lit: True while it sounds; a degree just played is drawn dim.
    """

    label: str = ""
    others: tuple[str, ...] = ()
    name: str = ""
    role: str = ""
    pull: str = ""
    moved: str = ""
    lit: bool = False


def degree_view(snapshot: Snapshot) -> DegreeView:
    """The newest key that is down; without one the last note of the call, dim."""
    if snapshot.held:
        return _held_view(snapshot, snapshot.held[-1])
    if snapshot.call:
        return _note_view(snapshot, snapshot.call[-1].pitch, lit=False)
    return DegreeView(name="Play a note", role=f"in {_key_name(snapshot)}")


def _key_name(snapshot: Snapshot) -> str:
    return music.key_named(snapshot.key).pretty


def _held_view(snapshot: Snapshot, held: HeldView) -> DegreeView:
    labels = music.degree_labels(snapshot.key, snapshot.labels)
    if held.sounding is None:
        name = music.note_name(held.pressed, snapshot.key)
        return DegreeView(
            label=labels[held.pressed],
            name=f"{name}  silent",
            role=f"outside {_key_name(snapshot)}",
        )
    view = _note_view(snapshot, held.sounding, lit=True)
    others = _others(snapshot, held.sounding, labels)
    return dataclasses.replace(view, others=others, moved=_moved(snapshot, held))


def _others(snapshot: Snapshot, newest: int, labels: tuple[str, ...]) -> tuple[str, ...]:
    pitches = {held.sounding for held in snapshot.held if held.sounding is not None} - {newest}
    return tuple(dict.fromkeys(labels[pitch] for pitch in sorted(pitches, reverse=True)))


def _note_view(snapshot: Snapshot, pitch: int, *, lit: bool) -> DegreeView:
    labels = music.degree_labels(snapshot.key, snapshot.labels)
    degree = music.degree(pitch, snapshot.key)
    return DegreeView(
        label=labels[pitch],
        name=f"{music.note_name(pitch, snapshot.key)}  {degree.name}",
        role=_role(snapshot, pitch) if lit else "",
        pull=music.leaning(pitch, snapshot.key, snapshot.labels),
        lit=lit,
    )


def _role(snapshot: Snapshot, pitch: int) -> str:
    """The part in the chord that is held, three notes or more; else in the progression's."""
    hearing = snapshot.hearing
    held = {held.sounding % 12 for held in snapshot.held if held.sounding is not None}
    if hearing.chord and len(held) >= 3:
        return f"{music.role_in(pitch, hearing.chord)}, {music.step_of(hearing.numeral)}"
    return music.role_in(pitch, snapshot.chord) if snapshot.chord else ""


def _moved(snapshot: Snapshot, held: HeldView) -> str:
    if held.sounding is None or held.sounding == held.pressed:
        return ""
    return f"from {music.note_name(held.pressed, snapshot.key)}"


class DegreePanel(Panel[DegreeView]):
    """The degree in the largest type, lines of words below it, the rest of a chord beside it."""

    def words(self, view: DegreeView) -> str:
        """`Degree ♭3, F mediant, 5 of B♭, home, leans to 2`."""
        if not view.label:
            return f"{view.name} {view.role}"
        state = "Degree" if view.lit else "Last degree"
        chord = f"with {' '.join(view.others)}" if view.others else ""
        name = view.name.replace("  ", " ")
        parts = (f"{state} {view.label}", name, view.role, view.pull, view.moved, chord)
        return ", ".join(part for part in parts if part)

    def draw(self, painter: QPainter, box: QRectF) -> None:
        """Draw the view."""
        theme, scale, view = self.look.theme, self.look.scale, self.view
        tone = theme.ink if view.lit or not view.label else theme.dim
        tall, line = self.look.px(53 if self.look.compact else 65), self.look.px(16)
        if view.label:
            self._draw_label(painter, QRectF(box.left(), box.top(), box.width(), tall), tone)
        top = box.top() + tall if view.label else box.center().y() - line
        place = QRectF(box.left(), top, box.width(), line)
        sizes = (Size.HEAD, Size.TEXT, Size.SMALL)
        letters.write(painter, place, view.name, sizes, scale, tone, bold=True)
        for text in self._lines():
            place.translate(0, line)
            letters.write(painter, place, text, sizes[1:], scale, theme.dim)

    def _lines(self) -> list[str]:
        """The lines below the name; the compact arrangement has room for one."""
        view = self.view
        if self.look.compact:
            one = ", ".join(part for part in (view.moved, view.role) if part)
            return [one or view.pull]
        return [text for text in (view.role, view.pull) if text]

    def _draw_label(self, painter: QPainter, big: QRectF, tone: str) -> None:
        theme, scale, view = self.look.theme, self.look.scale, self.view
        placed = letters.write(painter, big, view.label, (Size.BIG,), scale, tone, bold=True)
        left = big.left() + placed.width + self.look.px(12)
        step = letters.cap_height(Size.BIG, scale, bold=True) / 3
        cell = QRectF(left, big.center().y() - 1.5 * step, big.right() - left, step)
        beside = view.moved and not self.look.compact
        if beside:
            letters.write(painter, cell, view.moved, (Size.TEXT, Size.SMALL), scale, theme.ink)
        shown = view.others[: 2 if beside else 3]
        cell.translate(0, (3 - len(shown)) * step)
        for label in shown:
            letters.write(painter, cell, label, (Size.HEAD,), scale, theme.ink, bold=True)
            cell.translate(0, step)
