"""Tunes in the collections that music21 carries as ABC, read bar by bar.

A small reader of its own, because only bars of one voice are needed: notes (the top one of a
chord), rests, ties, tuplets, broken rhythm, accidentals, bar lines and pickups. Graces, chord
symbols and marks are passed over; repeats are not played twice. tests/oracle/test_answer_corpus.py
compares it with music21.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import accumulate
from pathlib import Path

import music21

from live.clock.metre import Metre
from live.clock.units import TICKS_PER_BEAT
from live.theory.pitch import parse_spelling

Note = tuple[int, int, int]
"""Onset and length in ticks, MIDI pitch."""

FOLDER = Path(music21.__file__).parent / "corpus"

_METRES_SAID = {"C": "4/4", "C|": "2/2"}
_MODES = {"": 0, "maj": 0, "ion": 0, "m": -3, "min": -3, "aeo": -3}
"""Fifths from the major key of the same tonic to the signature. Other modes are left out."""
_FIFTHS = "FCGDAEB"
_LETTERS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_SIGNS = {"^^": 2, "^": 1, "=": 0, "_": -1, "__": -2}
_TUPLETS = {2: 3, 3: 2, 4: 3, 6: 2, 8: 3}
"""ABC 2.1, section 4.13: so many in the time of; others take the time of 2, or 3 in compound."""

_PASSED_OVER = re.compile(r'"[^"]*"|![^!|]*!|\{[^}]*\}|\[[A-Zr]:[^\]]*\]|[`\\~.uvHLMOPSTJKR]|%.*')
_TOKEN = re.compile(
    r"(?P<bar>\[\||:*\|+[\]:]*|:{2,}|:)"
    r"|(?P<tuplet>\(\d(?::\d?(?::\d?)?)?)"
    r"|(?P<chord>\[[^\]|]*\])(?P<chordlen>\d*/*\d*)"
    r"|(?P<sign>\^\^|\^|__|_|=)?(?P<letter>[A-Ga-g])(?P<octave>[,']*)(?P<length>\d*/*\d*)"
    r"|(?P<rest>[zx])(?P<restlen>\d*/*\d*)"
    r"|(?P<tie>-)|(?P<broken>>+|<+)"
)


@dataclass
class Bar:
    """One written bar: its length and notes in ticks from its beginning."""

    length: Fraction = Fraction(0)
    notes: list[list[Fraction | int]] = field(default_factory=list)
    opens: bool = False


@dataclass(frozen=True)
class Tune:
    """A tune in one voice.

    `titles` are all it is known by; `bars` are (length in ticks, notes from the bar line, whether
    a strain begins with it).
    """

    name: str
    titles: tuple[str, ...]
    tonic_pc: int
    is_minor: bool
    metre: Metre
    bars: tuple[tuple[int, tuple[Note, ...], bool], ...]

    @property
    def notes(self) -> list[Note]:
        """Every note, its onset from the tune's beginning."""
        begins = accumulate((length for length, _, _ in self.bars), initial=0)
        return [
            (begin + onset, length, pitch)
            for begin, (_, bar, _) in zip(begins, self.bars, strict=False)
            for onset, length, pitch in bar
        ]


def load(collection: str) -> list[Tune]:
    """The tunes of a folder of music21's corpus, those in a major or minor key."""
    found = []
    for file in sorted((FOLDER / collection).glob("*.abc")):
        text = file.read_text(encoding="utf-8", errors="replace")
        for number, tune in enumerate(re.split(r"(?m)^(?=X: ?\d)", text)):
            read = read_tune(tune, f"{collection}/{file.stem}:{number}")
            if read is not None:
                found.append(read)
    return found


def read_tune(text: str, name: str = "") -> Tune | None:
    """Read one tune; None with several voices, without metre, or in no major or minor key."""
    head, body = _parts(text)
    key = re.match(r"([A-G])([#b]?)\s*([A-Za-z]*)", head.get("K", ""))
    metre = re.match(r"C\||C|\d+/\d+", head.get("M", ""))
    mode = _MODES.get(key[3].lower()[:3]) if key else None
    if key is None or metre is None or mode is None or re.search(r"(?m)^V:|\[V:", text):
        return None
    said = _METRES_SAID.get(metre[0], metre[0])
    beats, unit = (int(part) for part in said.split("/"))
    if unit not in (2, 4, 8, 16):
        return None
    length = re.match(r"(\d+)/(\d+)", head.get("L", ""))
    quarter = TICKS_PER_BEAT
    default = Fraction(1, 16 if Fraction(beats, unit) < Fraction(3, 4) else 8)
    eighth = (Fraction(int(length[1]), int(length[2])) if length else default) * 4 * quarter
    fifths = _FIFTHS.index(key[1]) - 1 + 7 * {"": 0, "#": 1, "b": -1}[key[2]] + mode
    bars = _Reader(eighth, fifths, compound=beats % 3 == 0).read(body)
    return Tune(
        name,
        tuple(_plain(title) for title in re.findall(r"(?m)^T:\s*(.*)", text)),
        parse_spelling(key[1] + key[2]).pitch_class,
        mode == _MODES["min"],
        Metre(beats, unit),
        tuple(_whole(bar) for bar in bars if bar.length),
    )


def _parts(text: str) -> tuple[dict[str, str], str]:
    head: dict[str, str] = {}
    body: list[str] = []
    for line in text.splitlines():
        found = re.match(r"([A-Za-z]):\s*(.*)", line)
        if found and not body and "K" not in head:
            head.setdefault(found[1], found[2].split("%")[0].strip())
        elif not found and "K" in head:
            body.append(_PASSED_OVER.sub("", line))
        elif found and found[1] in "KLM" and body:
            break  # what follows is in another key or metre: the first strain is enough
    return head, " ".join(body)


def _plain(title: str) -> str:
    """A title without article, kind of dance, case and punctuation."""
    plain = re.sub(r"\b(the|a|an)\b|--.*|\[.*", " ", title.lower())
    return re.sub(r"[^a-z0-9]", "", plain)


def _whole(bar: Bar) -> tuple[int, tuple[Note, ...], bool]:
    notes = tuple((round(o), max(1, round(length)), int(p)) for o, length, p in bar.notes)
    return round(bar.length), notes, bar.opens


def _factor(text: str) -> Fraction:
    if "/" not in text:
        return Fraction(int(text or 1))
    upper, lower = text.split("/", 1)
    slashes = lower.count("/")
    value = Fraction(int(upper or 1), int(lower.strip("/") or 2))
    return value / 2**slashes if not lower.strip("/") else value


class _Reader:
    """Goes through the body once, bar by bar."""

    def __init__(self, unit: Fraction, fifths: int, *, compound: bool) -> None:
        self._unit, self._compound = unit, compound
        order = _FIFTHS if fifths > 0 else _FIFTHS[::-1]
        sign = 1 if fifths > 0 else -1
        self._signature = dict.fromkeys(_FIFTHS, 0)
        for turn in range(abs(fifths)):
            self._signature[order[turn % 7]] += sign
        self._bars = [Bar(opens=True)]
        self._signs: dict[tuple[str, str], int] = {}
        self._tuplet: tuple[Fraction, int] = (Fraction(1), 0)
        self._broken = Fraction(1)
        self._last: list[Fraction | int] | None = None
        self._tied = False

    def read(self, body: str) -> list[Bar]:
        for token in _TOKEN.finditer(body):
            if token["bar"]:
                self._bar_line(token["bar"])
            elif token["tuplet"]:
                self._open_tuplet(token["tuplet"])
            elif token["tie"]:
                self._tied = True
            elif token["broken"]:
                self._break(token["broken"])
            elif token["rest"]:
                self._add(None, _factor(token["restlen"]))
            elif token["chord"]:
                self._chord(token["chord"], _factor(token["chordlen"]))
            else:
                self._add(self._pitch(token), _factor(token["length"]))
        return self._bars

    def _bar_line(self, line: str) -> None:
        opens = ":" in line or len(line) > 1
        self._signs = {}
        if self._bars[-1].length:
            self._bars.append(Bar(opens=opens))
        else:
            self._bars[-1].opens |= opens

    def _open_tuplet(self, text: str) -> None:
        numbers = [int(part) if part else 0 for part in text[1:].split(":")]
        many = numbers[0]
        time = numbers[1] if len(numbers) > 1 and numbers[1] else 0
        time = time or _TUPLETS.get(many, 3 if self._compound else 2)
        count = numbers[2] if len(numbers) > 2 and numbers[2] else many
        self._tuplet = Fraction(time, many), count

    def _pitch(self, token: re.Match[str]) -> int:
        letter, octave = token["letter"], token["octave"]
        place = letter, octave
        if token["sign"]:
            self._signs[place] = _SIGNS[token["sign"]]
        sign = self._signs.get(place, self._signature[letter.upper()])
        height = 72 if letter.islower() else 60
        return (
            height + _LETTERS[letter.upper()] + sign + 12 * (octave.count("'") - octave.count(","))
        )

    def _chord(self, text: str, factor: Fraction) -> None:
        inside = [t for t in _TOKEN.finditer(text[1:-1]) if t["letter"]]
        if inside:
            pitches = [self._pitch(t) for t in inside]
            self._add(max(pitches), _factor(inside[0]["length"]) * factor)

    def _break(self, marks: str) -> None:
        small = Fraction(1, 2 ** len(marks))
        first = 2 - small if marks[0] == ">" else small
        self._stretch(first)
        self._broken = 2 - first

    def _stretch(self, factor: Fraction) -> None:
        if self._last is not None:
            before = self._last[1]
            self._last[1] = before * factor
            self._bars[-1].length += before * factor - before

    def _add(self, pitch: int | None, factor: Fraction) -> None:
        length = self._unit * factor * self._broken
        self._broken = Fraction(1)
        scale, left = self._tuplet
        if left:
            length *= scale
            self._tuplet = scale, left - 1
        bar = self._bars[-1]
        tied, self._tied = self._tied, False
        note: list[Fraction | int] = [bar.length, length, pitch if pitch is not None else -1]
        if pitch is not None:
            if tied and self._last is not None and self._last[2] == pitch:
                self._last[1] += length
                note[2] = -1
            else:
                bar.notes.append(note)
        bar.length += length
        if note[2] != -1 or pitch is None:
            self._last = note
