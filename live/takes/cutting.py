"""Where takes begin and end in the stream of records. Pure: no clock, no file.

A take begins at the transport's start, or at the first note while it stands. It ends at the
stop, or when nothing sounded for a while and the transport stands, or with the run.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field, replace
from typing import Final

from live.clock.units import NS_PER_S
from live.notes.record import Record
from live.takes.meaning import (
    DEFAULT_TEMPO_BPM,
    NoteEdge,
    Part,
    detail_of,
    metre_of,
    note_edge,
    part_of,
    tempo_of,
)

QUIET_NS: Final = 10 * NS_PER_S
"""While the transport stands, a take ends after this long without a note."""

EARLY_NS: Final = NS_PER_S
"""Notes at most this long before the start belong to the take that starts (an early finger)."""


SETTLING_NS: Final = 4 * NS_PER_S
"""A clock that is followed is first guessed at, from the pulses of a beat or two."""


@dataclass(slots=True)
class Draft:
    """A take under way, as the journal keeps it.

    Args:
        first_record, last_record: numbers of its first and last record, inclusive.
        first_ns, end_ns: monotonic time of its first and last moment.
        key, metre: in force at its first moment ("" = no key was ever set).
        tempo_bpm: in force then; with the transport, what it settled on within `SETTLING_NS`.
        held: notes that sounded already, JSON: [[kind, port, message in hex], ...].
        id: the take's number once the journal has given one.
    """

    first_record: int
    last_record: int
    first_ns: int
    end_ns: int
    key: str
    tempo_bpm: float
    metre: str
    held: str
    notes: int = 0
    calls: int = 0
    answers: int = 0
    id: int | None = None


_Held = dict[tuple[Part, int, int], Record]  # part, channel, pitch: the note-on


@dataclass(slots=True)
class Cutter:
    """Reads one run's records in order and keeps the books on its takes.

    `touched` lists the drafts that are new or changed since `fork`. Thread: one at a time.
    """

    touched: list[Draft] = field(default_factory=list)
    _open: Draft | None = None
    _playing: bool = False
    _key: str = ""
    _tempo_bpm: float = DEFAULT_TEMPO_BPM
    _metre: str = "4/4"
    _last_note_ns: int = 0
    _held: _Held = field(default_factory=dict)

    def fork(self) -> Cutter:
        """A copy to try a batch on; if the batch cannot be kept, drop the copy."""
        draft = replace(self._open) if self._open else None
        return replace(self, touched=[], _open=draft, _held=dict(self._held))

    def feed(self, record_id: int, record: Record) -> None:
        """Take in the next record of the run; `record_id` rises from record to record."""
        part = part_of(record)
        edge = note_edge(record.data) if part else None
        if self._gone_quiet(record.at_ns):
            self._open = None
        self._learn(record)
        if record.kind == "start":
            self._start(record_id, record)
        elif edge and edge.velocity and self._open is None:
            self._begin(record_id, record)
        self._extend(record_id, record, part, edge)
        if part and edge:
            self._hold(part, edge, record)
        if record.kind == "stop":
            self._playing, self._open = False, None

    def _gone_quiet(self, at_ns: int) -> bool:
        """While a note of ours sounds (a drone), it is not quiet, however long it lasts."""
        if self._open is None or self._playing or at_ns - self._last_note_ns <= QUIET_NS:
            return False
        return not any(part != "played" for part, _, _ in self._held)

    def _learn(self, record: Record) -> None:
        if record.kind in ("start", "tempo", "key"):
            detail = detail_of(record)
            self._tempo_bpm = tempo_of(detail) or self._tempo_bpm
            self._metre = str(metre_of(detail) or self._metre)
            self._key = str(detail.get("key", self._key))
        elif record.kind == "panic":
            self._held = {k: on for k, on in self._held.items() if k[0] == "played"}

    def _start(self, record_id: int, record: Record) -> None:
        draft = self._open
        if draft is None or self._playing or record.at_ns - draft.first_ns > EARLY_NS:
            self._begin(record_id, record)
        else:
            draft.tempo_bpm, draft.metre = self._tempo_bpm, self._metre
        self._playing = True

    def _begin(self, record_id: int, record: Record) -> None:
        held = [(on.kind, on.port, on.data.hex()) for on in self._held.values()]
        self._open = Draft(
            first_record=record_id,
            last_record=record_id,
            first_ns=record.at_ns,
            end_ns=record.at_ns,
            key=self._key,
            tempo_bpm=self._tempo_bpm,
            metre=self._metre,
            held=json.dumps(held),
        )

    def _extend(
        self, record_id: int, record: Record, part: Part | None, edge: NoteEdge | None
    ) -> None:
        draft = self._open
        if draft is None:
            return
        if not (self.touched and self.touched[-1] is draft):
            self.touched.append(draft)
        draft.last_record = record_id
        settling = self._playing and record.at_ns - draft.first_ns <= SETTLING_NS
        if record.kind == "tempo" and settling:
            draft.tempo_bpm = self._tempo_bpm
        if edge or self._playing:
            draft.end_ns = max(draft.end_ns, record.at_ns)
        draft.notes += bool(part == "played" and edge and edge.velocity)
        draft.calls += record.kind == "call"
        draft.answers += record.kind == "answer"

    def _hold(self, part: Part, edge: NoteEdge, record: Record) -> None:
        self._last_note_ns = record.at_ns
        where = (part, edge.channel, edge.pitch)
        if edge.velocity:
            self._held[where] = record
            return
        self._held.pop(where, None)
        if part == "through" and not any(k[0] == "through" for k in self._held):
            # An unplugged keyboard never sends its offs: when nothing goes through any more,
            # no key counts as held.
            self._held = {k: on for k, on in self._held.items() if k[0] != "played"}
