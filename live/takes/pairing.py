"""From a stream of messages to notes with a length, channel by channel. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from live.notes.midi import ends_notes
from live.notes.phrase import PhraseNote
from live.takes.meaning import NoteEdge, note_edge

Event = tuple[int, bytes]
"""(ticks, one whole MIDI message); an empty message ends every note that sounds."""

_SYSEX = 0xF0
_FIRST_SYSTEM = 0xF0  # from here on messages have no channel


@dataclass(slots=True)
class Channel:
    """What one channel carried: notes by onset, then pitch; other messages in their order."""

    notes: list[PhraseNote] = field(default_factory=list)
    messages: list[Event] = field(default_factory=list)


def pair_notes(events: Iterable[Event], end_ticks: int) -> dict[int, Channel]:
    """Sort events into channels (0 to 15) and join each note's beginning with its end.

    A note that is struck again while it sounds ends there; an end without a beginning is
    dropped; what still sounds at `end_ticks` ends there. Every note lasts at least one tick, and
    of two that begin on the same tick at the same pitch the later one counts. System exclusive
    goes with the lowest channel; other system messages have no place in a file.
    """
    pairing = _Pairing()
    for ticks, data in events:
        edge = note_edge(data)
        if edge:
            pairing.edge(ticks, edge)
        elif data:
            pairing.message(ticks, data)
        else:
            pairing.end_all(ticks)
    pairing.end_all(end_ticks)
    return pairing.channels()


class _Pairing:
    def __init__(self) -> None:
        self._channels: dict[int, Channel] = {}
        self._sounding: dict[tuple[int, int], tuple[int, int]] = {}  # -> onset ticks, velocity
        self._sysex: list[Event] = []

    def edge(self, ticks: int, edge: NoteEdge) -> None:
        where = (edge.channel, edge.pitch)
        self._end(where, ticks)
        if edge.velocity:
            self._sounding[where] = (ticks, edge.velocity)

    def message(self, ticks: int, data: bytes) -> None:
        if data[0] >= _FIRST_SYSTEM:
            if data[0] == _SYSEX:
                self._sysex.append((ticks, data))
            return
        channel = data[0] & 0x0F
        if ends_notes(data):
            self.end_all(ticks, channel)
        self._on(channel).messages.append((ticks, data))

    def end_all(self, ticks: int, channel: int | None = None) -> None:
        for where in list(self._sounding):
            if channel is None or where[0] == channel:
                self._end(where, ticks)

    def channels(self) -> dict[int, Channel]:
        if self._sysex:
            first = self._on(min(self._channels, default=0))
            # Stable: what was equal in time stays in the order of its kind.
            first.messages = sorted([*self._sysex, *first.messages], key=lambda e: e[0])
        for channel in self._channels.values():
            channel.notes = _one_per_onset(channel.notes)
        return dict(sorted(self._channels.items()))

    def _on(self, channel: int) -> Channel:
        return self._channels.setdefault(channel, Channel())

    def _end(self, where: tuple[int, int], ticks: int) -> None:
        begun = self._sounding.pop(where, None)
        if begun is None:
            return
        onset, velocity = begun
        channel, pitch = where
        note = PhraseNote(onset, max(1, ticks - onset), pitch, velocity)
        self._on(channel).notes.append(note)


def _one_per_onset(notes: list[PhraseNote]) -> list[PhraseNote]:
    """Notes by onset and pitch; the last that was struck stands for all on the same tick."""
    struck = {(note.onset_ticks, note.pitch): note for note in notes}
    return [note for _, note in sorted(struck.items())]
