"""Record streams written by hand, shared by the tests of this folder."""

from __future__ import annotations

import json
from contextlib import closing
from pathlib import Path

from live.notes.record import Record
from live.takes.journal import Journal, list_takes, read_take
from live.takes.take import Take

SECOND = 1_000_000_000


def fact(at_s: float, kind: str, **detail: object) -> Record:
    return Record(round(at_s * SECOND), kind, detail=json.dumps(detail) if detail else "")


def start(at_s: float, *, bar: int = 0, beat: float = 0.0, tempo: float = 120.0, metre="4/4"):
    return fact(at_s, "start", bar=bar, beat=beat, tempo=tempo, metre=metre)


def on(at_s: float, pitch: int = 60, velocity: int = 100, *, port: str = "keys in", channel=0):
    kind = "in" if port == "keys in" else "out"
    return Record(round(at_s * SECOND), kind, port, bytes((0x90 | channel, pitch, velocity)))


def off(at_s: float, pitch: int = 60, *, port: str = "keys in", channel: int = 0) -> Record:
    kind = "in" if port == "keys in" else "out"
    return Record(round(at_s * SECOND), kind, port, bytes((0x80 | channel, pitch, 64)))


def note(at_s: float, length_s: float, pitch: int = 60, *, port: str = "keys in") -> list[Record]:
    return [on(at_s, pitch, port=port), off(at_s + length_s, pitch, port=port)]


def journalled(path: Path, records: list[Record]) -> list[Take]:
    """The takes that the journal makes of one run's records."""
    with closing(Journal(path)) as journal:
        journal.begin_run(1_936_818_273 * SECOND, 0)
        journal.write(records)
    return [read_take(path, info.id) for info in list_takes(path)]
