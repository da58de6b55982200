"""A take as a Standard MIDI File that drops into an arrangement."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

from live.clock.metre import Metre
from live.notes.midi import DRUM_CHANNEL
from live.notes.record import Record
from live.notes.split import is_whole
from live.ports.files import TrackOut, write_song
from live.takes.drumming import drum_notes
from live.takes.meaning import PARTS, detail_of, note_edge, track_of
from live.takes.pairing import Event, pair_notes
from live.takes.take import Take
from live.takes.ticks import TickMap, stated_bar_ticks, tick_map
from live.theory.errors import FieldError
from live.theory.keys import Key, parse_key

DRUMS: Final = "drums"
"""Name of the track with the groove."""

Marker = tuple[int, str]
"""(ticks, text); the file gets it in plain ASCII."""


@dataclass(frozen=True, slots=True)
class ExportPlan:
    """All that goes into the file; tick 0 is a bar line.

    Args:
        tracks: parts that carry anything: `played`, `through`, `answer`, then what left on further
            outputs, `to NAME`, a track per channel; and `drums`.
        tempos: (ticks, quarter notes a minute); the first at tick 0.
        metre: time signature.
        key: key signature; None if no key was in force.
        markers: by ticks.
    """

    tracks: tuple[TrackOut, ...]
    tempos: tuple[tuple[int, float], ...]
    metre: Metre
    key: Key | None
    markers: tuple[Marker, ...]


@dataclass(frozen=True, slots=True)
class ExportReport:
    """What was written: the file, its tracks' names and its notes on all tracks."""

    path: Path
    tracks: tuple[str, ...]
    notes: int


def plan_export(take: Take, *, drums: bool = False) -> ExportPlan:
    """Lay a take out in ticks, with the groove's `drums` on request; writes nothing.

    Thread: any; pure. Raises: FieldError for a groove that cannot be read.
    """
    ticks = tick_map(take)
    shift = _shift_ticks(take, ticks)
    found = ticks.stated_tempos() if take.info.origin else ticks.tempos(take.end_ns)
    tempos = tuple((at + shift if at else 0, tempo) for at, tempo in found)
    tracks = [*_tracks(take, ticks, shift)]
    if drums and (strokes := drum_notes(take, ticks)):
        notes = tuple(replace(n, onset_ticks=n.onset_ticks + shift) for n in strokes)
        tracks.append(TrackOut(DRUMS, DRUM_CHANNEL, notes))
    return ExportPlan(
        tracks=tuple(tracks),
        tempos=tempos,
        metre=take.metre,
        key=_key_or_none(take.info.key),
        markers=tuple(sorted(_markers(take, ticks, shift), key=lambda marker: marker[0])),
    )


def export_take(take: Take, path: Path | str, *, drums: bool = False) -> ExportReport:
    """Write a take as a Standard MIDI File, type 1, with the groove's `drums` on request.

    Raises: FieldError if the file exists already (it is left as it is) or cannot be written.
    """
    path = Path(path)
    plan = plan_export(take, drums=drums)
    _reserve(path)
    try:
        write_song(
            path,
            plan.tracks,
            tempo_bpm=plan.tempos[0][1],
            metre=plan.metre,
            key=plan.key,
            markers=plan.markers,
            tempos=plan.tempos[1:],
        )
    except BaseException:
        path.unlink(missing_ok=True)
        raise
    names = tuple(track.name for track in plan.tracks)
    return ExportReport(path, names, sum(len(track.notes) for track in plan.tracks))


def _reserve(path: Path) -> None:
    """From here on the name is ours, whoever else asks for it."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise FieldError("folder", "one that can be made", str(path.parent)) from error
    try:
        path.open("xb").close()
    except FileExistsError:
        raise FieldError("file", "a name that is not taken", str(path)) from None
    except OSError as error:
        raise FieldError("file", "a place that can be written", str(path)) from error


def _shift_ticks(take: Take, ticks: TickMap) -> int:
    """Whole bars that bring notes before the first bar line (early fingers) to tick 0 or later."""
    onsets = (
        ticks.ticks_at(record.at_ns)
        for record in take.records
        if track_of(record) and (edge := note_edge(record.data)) and edge.velocity
    )
    bar = take.metre.bar_ticks
    return max(0, -(min(onsets, default=0) // bar)) * bar


def _tracks(take: Take, ticks: TickMap, shift: int) -> Iterator[TrackOut]:
    end_ticks = ticks.ticks_at(take.end_ns) + shift
    found = (track_of(record) for record in take.records)
    for track in dict.fromkeys((*PARTS, *(name for name in found if name))):
        channels = pair_notes(_events(take, track, ticks, shift), end_ticks)
        for index, (channel, content) in enumerate(channels.items()):
            name = track if index == 0 else f"{track} {channel + 1}"
            yield TrackOut(name, channel, tuple(content.notes), tuple(content.messages))


def _events(take: Take, track: str, ticks: TickMap, shift: int) -> list[Event]:
    panics_ns = {record.at_ns for record in take.records if record.kind == "panic"}
    found: list[tuple[int, bytes]] = []
    for record in take.records:
        hushed = track != "played" and record.at_ns in panics_ns
        if record.kind == "panic" and track != "played":
            found.append((record.at_ns, b""))
        elif track_of(record) != track or not is_whole(record.data):
            continue
        elif not hushed or note_edge(record.data):
            # What a panic tells the receiver on all 16 channels besides is no music.
            found.append((record.at_ns, record.data))
    found.sort(key=lambda event: event[0])
    return [(max(0, ticks.ticks_at(at_ns) + shift), data) for at_ns, data in found]


def _markers(take: Take, ticks: TickMap, shift: int) -> Iterator[Marker]:
    if ticks.first_bar is not None and (ticks.first_bar or shift):
        yield shift, f"bar {ticks.first_bar + 1}"
    for record in take.records:
        text = _marker_text(record)
        if not text:
            continue
        at = ticks.ticks_at(record.at_ns)
        bar_line = stated_bar_ticks(record, take, ticks.first_bar)
        if bar_line is not None and abs(bar_line - at) <= take.metre.beat_ticks // 4:
            at = bar_line
        yield max(0, at + shift), text


_NUMBERED: Final = ("call", "late", "kept")


def _marker_text(record: Record) -> str:
    """The marker for a record, "" for none."""
    detail = detail_of(record)
    text = ""
    if record.kind in _NUMBERED:
        text = f"{record.kind} {detail.get('number', '')}"
    elif record.kind == "answer":
        text = f"answer {detail.get('number', '')}: {_words(detail)}"
    elif record.kind == "key":
        text = f"key {detail.get('key', '')}"
    elif record.kind == "section":
        text = f"section {detail.get('section', '')}"
    elif record.kind == "panic":
        text = "panic"
    return text.strip(" :")


def _words(detail: dict[str, Any]) -> str:
    words = detail.get("words") or detail.get("reasons") or ()
    return ", ".join(str(word) for word in words)


def _key_or_none(text: str) -> Key | None:
    try:
        return parse_key(text)
    except FieldError:
        return None
