"""Plays a chosen answer: its notes wait in the due queue and sound on the answer port."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final, Literal, NamedTuple

from live.clock.due import RANK_OFF, RANK_ON, DueQueue
from live.clock.units import TICKS_PER_BEAT
from live.notes.events import ANSWER, ANSWER_SOURCE, Output
from live.notes.held import HeldLedger, Sounding
from live.notes.midi import note_off, note_on
from live.notes.phrase import PhraseNote
from live.notes.record import Record
from live.theory.keys import Key
from live.theory.snap import snap_map

STALE_TICKS: Final = TICKS_PER_BEAT
"""A note this late is left out: after a stall the grid goes on, nothing bursts."""

OVER_TICKS: Final = TICKS_PER_BEAT // 8
"""Nor is a note begun this late (a 32nd note) if it would be over already (own choice)."""

MarkName = Literal[
    "call", "look", "cutoff", "answer", "answer end", "cut", "pause", "limit", "rest", "section"
]


class Mark(NamedTuple):
    """A point of the form: what happens there, and for which call."""

    name: MarkName
    number: int


class AnswerOn(NamedTuple):
    """An answer note begins; `ident` tells it from any other."""

    ident: int
    pitch: int
    velocity: int
    length_ticks: int
    key: Key


class AnswerOff(NamedTuple):
    """The answer note `ident` ends."""

    ident: int


Due = Mark | AnswerOn | AnswerOff


class AnswerPlayer:
    """Schedules and sounds answer notes.

    Args:
        due: the engine's queue.
        ledger: the engine's ledger.
    Thread: one owner (the engine's).
    """

    def __init__(self, due: DueQueue[Due], ledger: HeldLedger) -> None:
        self._due = due
        self._ledger = ledger
        self._ident = 0
        self.channel = 0
        self.skipped = 0
        """Notes left out because the engine was stalled past them."""

    def schedule(
        self, notes: Iterable[PhraseNote], key: Key, start_tick: int, from_tick: int, end_tick: int
    ) -> None:
        """Queue the notes of an answer that begin in a stretch of it.

        Args:
            notes: the answer's notes.
            key: the key it was composed in.
            start_tick: the answer's first bar line.
            from_tick: leave out what begins before.
            end_tick: leave out what begins here or later, and end here what lasts longer.
        """
        for note in notes:
            onset = start_tick + note.onset_ticks
            if not from_tick <= onset < end_tick:
                continue
            self._ident += 1
            length = min(note.length_ticks, end_tick - onset)
            on = AnswerOn(self._ident, note.pitch, note.velocity, length, key)
            self._due.add(onset, RANK_ON, on)
            self._due.add(onset + length, RANK_OFF, AnswerOff(self._ident))

    def unschedule(self, from_tick: int) -> None:
        """Take back every note that would begin at `from_tick` or later."""
        self._due.remove_from(from_tick, RANK_ON)

    def sound(
        self, item: AnswerOn, at_ns: int, late_ticks: float, key_now: Key, out: list[Output]
    ) -> None:
        """An answer note begins; if the key has changed since, it is brought into the new one.

        Args:
            item: the note.
            at_ns: when it was due.
            late_ticks: how long ago that is.
            key_now: the key in force.
            out: records of what leaves are added here.
        """
        over = late_ticks > OVER_TICKS and late_ticks >= item.length_ticks
        if over or late_ticks > STALE_TICKS:
            self.skipped += 1
            return
        pitch = item.pitch
        if item.key != key_now:
            pitch = snap_map(key_now, "nearest", None).snap(pitch, None)
        sounding = Sounding(ANSWER, self.channel, pitch)
        # Idents are unique, so the ledger's key needs no channel: 0 stands for any.
        ended = self._ledger.press(ANSWER_SOURCE, 0, item.ident, sounding)
        out.extend(_off(at_ns, note) for note in ended)
        out.append(Record(at_ns, "out", ANSWER, note_on(self.channel, pitch, item.velocity)))

    def end(self, item: AnswerOff, at_ns: int, out: list[Output]) -> None:
        """An answer note ends, if it ever began."""
        if self._ledger.is_down(ANSWER_SOURCE, 0, item.ident):
            ended = self._ledger.release(ANSWER_SOURCE, 0, item.ident)
            if ended is not None:
                out.append(_off(at_ns, ended))

    def silence(self, at_ns: int, out: list[Output]) -> None:
        """End every answer note that sounds, at once."""
        out.extend(_off(at_ns, ended) for ended in self._ledger.release_source(ANSWER_SOURCE))


def _off(at_ns: int, sounding: Sounding) -> Record:
    return Record(at_ns, "out", sounding.port, note_off(sounding.channel, sounding.note))
