"""A take as data: what the journal lists and what an export starts from."""

from __future__ import annotations

from dataclasses import dataclass

from live.clock.metre import Metre
from live.notes.record import Record


@dataclass(frozen=True, slots=True)
class TakeInfo:
    """One line of the list of takes.

    Args:
        id: small whole number, 1 or more; never given to another take of the same journal.
        started: local wall-clock time of the take's first moment, `2031-05-17 21:04:33`.
        length_s: seconds from the first moment to the last.
        notes: keys pressed (`in` note-ons).
        calls: calls begun.
        answers: answers begun.
        key: the key in force at the first moment, "" if none was ever set.
        tempo: at the first moment, or what it settled on within seconds; quarter notes a minute.
        origin: name of the file an imported take came from, "" for a played one.
    """

    id: int
    started: str
    length_s: float
    notes: int
    calls: int
    answers: int
    key: str
    tempo: float
    origin: str = ""


@dataclass(frozen=True, slots=True)
class Take:
    """A take with everything that happened in it.

    Args:
        info: its line in the list.
        metre: the time signature in force at the first moment.
        first_ns: monotonic time of the first moment (a note, or the transport's start).
        end_ns: monotonic time of the last moment.
        records: in the order they were written; the groove in force and the notes already held
            when the take began come first, stamped `first_ns`.
    """

    info: TakeInfo
    metre: Metre
    first_ns: int
    end_ns: int
    records: tuple[Record, ...]
