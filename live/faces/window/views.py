"""Every part's view at once, from a snapshot, or from the lack of one. Pure: no Qt painting."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import Final

from live.daemon.snapshot import Snapshot
from live.faces.window import words
from live.faces.window.choices import ChoiceRow, choice_rows
from live.faces.window.degree import DegreeView, degree_view
from live.faces.window.drilling import asked_view, bare_strip, drill_lanes
from live.faces.window.footview import FootView, foot_view
from live.faces.window.phrases import LanesView, lanes_view
from live.faces.window.status import StatusView
from live.faces.window.strip import StripView, strip_view


@dataclass(frozen=True, slots=True)
class Moment:
    """What the window itself knows beyond the snapshot.

    Args:
        hint: what may be typed, while a value is edited. error: why the last command failed.
        gone: why there is no daemon. panicked: a panic has just been done.
    """

    hint: str = ""
    error: str = ""
    gone: str = ""
    panicked: bool = False


@dataclass(frozen=True, slots=True)
class Views:
    """A view for each part."""

    degree: DegreeView
    lanes: LanesView
    choices: tuple[ChoiceRow, ...]
    choices_note: str
    strip: StripView
    foot: FootView
    status: StatusView


NO_DAEMON: Final = Views(
    degree=DegreeView(name="Not connected", role="Undersong is off"),
    lanes=LanesView(
        call=(),
        answer=(),
        call_beats=8.0,
        answer_beats=8.0,
        bar_beats=4.0,
        pulse_beats=1.0,
        running="",
        playhead=None,
        state="",
        call_note="Start it with: undersong headless",
        answer_note="This window keeps trying",
    ),
    choices=(),
    choices_note="",
    strip=StripView(labels=("",) * 128, brightness=(0.0,) * 12),
    foot=FootView(values=(), startable=False),
    status=StatusView(),
)
"""What the window shows while no daemon answers."""

WAITING: Final = dataclasses.replace(
    NO_DAEMON,
    degree=DegreeView(name="Waiting", role="for Undersong"),
    lanes=dataclasses.replace(NO_DAEMON.lanes, call_note="", answer_note=""),
)
"""What it shows until it knows whether there is one."""


def views_of(snapshot: Snapshot | None, moment: Moment) -> Views:
    """The views of a snapshot, None = there is no daemon."""
    if snapshot is None:
        if not moment.gone:
            return WAITING
        return dataclasses.replace(NO_DAEMON, status=StatusView(sentence(moment.gone), strong=True))
    views = Views(
        degree=degree_view(snapshot),
        lanes=lanes_view(snapshot),
        choices=choice_rows(snapshot),
        choices_note="" if snapshot.choices else "no answer yet",
        strip=strip_view(snapshot),
        foot=foot_view(snapshot),
        status=_status(snapshot, moment),
    )
    return _while_drilling(views, snapshot) if snapshot.drill.on else views


def _while_drilling(views: Views, snapshot: Snapshot) -> Views:
    return dataclasses.replace(
        views,
        degree=asked_view(snapshot),
        lanes=drill_lanes(views.lanes, snapshot),
        choices=(),
        choices_note="",
        strip=bare_strip(views.strip, snapshot),
    )


def _status(snapshot: Snapshot, moment: Moment) -> StatusView:
    """The most urgent thing to say; ports and losses when there is nothing."""
    aside = words.losses_words(snapshot)
    if moment.error:
        return StatusView(sentence(moment.error), strong=True, aside=aside)
    if moment.hint:
        return StatusView(moment.hint, aside=aside)
    if moment.panicked:
        return StatusView("Panic: every note released", strong=True, aside=aside)
    if snapshot.notice:
        return StatusView(sentence(snapshot.notice), strong=True, aside=aside)
    if snapshot.clock_state == "lost":
        lost = f"The outside clock has gone; time goes on at {snapshot.tempo:.1f}"
        return StatusView(lost, strong=True, aside=aside)
    heard = words.low_end_words(snapshot) or words.proposal_words(snapshot)
    return StatusView(heard or words.ports_words(snapshot), aside=aside)


def sentence(text: str) -> str:
    """`text` with a capital at the start."""
    return text[:1].upper() + text[1:]
