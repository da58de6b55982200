"""Music whose key is known, as music21 carries it: chorales, tunes, numerals with their local key.

Chorales: the Bach files of four parts; the key is the signature with the printed mode. `ends_on_it`
says whether the lowest last note is the tonic (280 of 364). Tunes: ABC collections of one voice,
those of 16 notes or more; the key is the K: field (in Essen songs it is only a tonic). Numerals:
the 1,064 of `chorales`, with the key that the analyst hears at each.

Parsing takes some minutes once and is then kept in the system's folder for temporary files, under
the version of music21.
"""

from __future__ import annotations

import json
import re
import tempfile
import warnings
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import music21
from music21 import converter, corpus

from live.theory.pitch import parse_spelling
from tests.study.chorales import CHORALES

Note = tuple[float, float, int]
"""Onset and length in quarters, MIDI note."""

LEAST_NOTES = 16
FOLDER = Path(music21.__file__).parent / "corpus"
_MINOR = {"": False, "maj": False, "ion": False, "m": True, "min": True, "aeo": True}


@dataclass(frozen=True)
class Piece:
    """A piece with its key; `minor` is None where only the tonic is known, or it is a mode."""

    name: str
    tonic: int
    minor: bool | None
    parts: tuple[tuple[Note, ...], ...]

    @property
    def notes(self) -> list[Note]:
        """All notes, by onset, then pitch."""
        found = [note for part in self.parts for note in part]
        return sorted(found, key=lambda note: (note[0], note[2]))

    @property
    def ends_on_it(self) -> bool:
        """Whether the lowest of the last notes of the parts is the tonic."""
        return min(part[-1][2] for part in self.parts) % 12 == self.tonic

    @property
    def index(self) -> int:
        """The key's number: tonic, and 12 more in minor."""
        return self.tonic + 12 * bool(self.minor)


@dataclass(frozen=True)
class Analysed:
    """A chorale with the keys an analyst hears: (begin in quarters, tonic, minor) a numeral."""

    name: str
    notes: tuple[Note, ...]
    keys: tuple[tuple[float, int, bool], ...]


def load_chorales() -> list[Piece]:
    """The 364 chorales of four parts with a printed mode, by file name."""
    return [_piece(*row) for row in _kept("chorales", _read_chorales)]


def load_tunes(collection: str) -> list[Piece]:
    """Every tune of a folder of music21's corpus, such as "ryansMammoth"."""
    return [_piece(*row) for row in _kept(collection, lambda: _read_tunes(collection))]


def load_analysed() -> list[Analysed]:
    """The 19 chorales with their 1,064 numerals."""
    return [
        Analysed(name, tuple((o, d, p) for o, d, p in notes), tuple((b, t, m) for b, t, m in keys))
        for name, notes, keys in _kept("numerals", _read_analysed)
    ]


def _piece(name: str, tonic: int, minor: bool | None, parts: list[list[Any]]) -> Piece:
    return Piece(name, tonic, minor, tuple(tuple((o, d, p) for o, d, p in part) for part in parts))


def _kept(name: str, read: Callable[[], list[Any]]) -> list[Any]:
    file = Path(tempfile.gettempdir()) / f"undersong-study-{music21.__version__}-{name}.json"
    if not file.exists():
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            rows = read()
        file.write_text(json.dumps(rows), encoding="utf-8")
    kept: list[Any] = json.loads(file.read_text(encoding="utf-8"))
    return kept


def _read_chorales() -> list[Any]:
    rows = []
    for file in sorted((FOLDER / "bach").glob("bwv*.*")):
        score = converter.parse(file)
        printed = next(iter(score.recurse().getElementsByClass("KeySignature")), None)
        parts = [_joined(_written(part)) for part in score.parts]
        mode = (getattr(printed, "mode", None) or "none")[:3]
        if len(parts) == 4 and all(parts) and mode in _MINOR:
            rows.append((file.name, printed.tonic.pitchClass, _MINOR[mode], parts))
    return rows


def _read_tunes(collection: str) -> list[Any]:
    rows = []
    for file in sorted((FOLDER / collection).glob("*.abc")):
        text = file.read_text(encoding="utf-8", errors="replace")
        for number, tune in enumerate(re.split(r"(?m)^(?=X: ?\d)", text)):
            key = re.search(r"(?m)^K: *([A-G][#b]?) *([A-Za-z]*)", tune)
            written = read_tune(tune) if key else []
            if key and len(written) >= LEAST_NOTES:
                tonic = parse_spelling(key[1]).pitch_class
                minor = _MINOR.get(key[2].lower()[:3])
                rows.append((f"{file.stem}:{number}", tonic, minor, [_joined(written)]))
    return [row for row in rows if len(row[3][0]) >= LEAST_NOTES]


def read_tune(text: str) -> list[Any]:
    """The written notes of a tune in ABC; none if music21 cannot read it."""
    try:
        made = converter.parse(text, format="abc")
    except Exception:  # noqa: BLE001 -- music21 raises all sorts on broken tunes
        return []
    tunes = getattr(made, "scores", None)
    return _written(tunes[0] if tunes else made, top_only=True)


def _written(stream: Any, *, top_only: bool = False) -> list[Any]:
    """(onset, length, pitch, goes on from a tie), grace notes and chord symbols left out."""
    return [
        (float(note.offset), float(note.quarterLength), pitch.midi, _goes_on(note))
        for note in stream.flatten().notes
        if not note.duration.isGrace and "ChordSymbol" not in note.classes
        for pitch in (note.pitches[-1:] if top_only else note.pitches)
    ]


def _goes_on(note: Any) -> bool:
    return note.tie is not None and note.tie.type != "start"


def _joined(written: Iterable[Sequence[Any]]) -> list[list[Any]]:
    """Tied notes made one, by onset, then length."""
    notes: list[list[Any]] = []
    for onset, length, pitch, goes_on in sorted(written):
        if not goes_on:
            notes.append([onset, length, pitch])
            continue
        for note in reversed(notes):
            if note[2] == pitch and abs(note[0] + note[1] - onset) < 1e-3:
                note[1] += length
                break
    return notes


def _read_analysed() -> list[Any]:
    rows = []
    names = corpus.chorales.Iterator(1, CHORALES, returnType="filename")
    for number, name in enumerate(list(names), 1):
        score = corpus.parse(name)
        text = FOLDER / f"bach/choraleAnalyses/riemenschneider{number:03d}.rntxt"
        analysis = converter.parse(text, format="romantext")
        numerals = list(analysis.flatten().getElementsByClass("RomanNumeral"))
        end = max(float(n.offset + n.quarterLength) for n in numerals)
        if len(score.parts) != 4 or abs(end - float(score.highestTime)) > 1:
            continue
        notes = sorted(
            (float(note.offset), float(note.quarterLength), pitch.midi)
            for part in score.parts
            for note in part.flatten().notes
            for pitch in note.pitches
        )
        keys = [(float(n.offset), n.key.tonic.pitchClass, n.key.mode == "minor") for n in numerals]
        rows.append((name, notes, keys))
    return rows
