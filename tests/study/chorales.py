"""The 1,064 human Roman numerals: chorales with an analysis, as music21 carries them.

Nineteen of the first twenty chorales of the Riemenschneider numbering, with the analyses in
corpus/bach/choraleAnalyses of music21: those whose four parts last as long as their analysis (to
one quarter). An item is one numeral with the notes that sound in it, at most four quarters.

Two chorales stand in another key than their analysis (`WRITTEN_ABOVE`), so that no finder can be
right on their 105 numerals but by chance. They are counted all the same.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from pathlib import Path

import music21
from music21 import converter, corpus

from live.theory.chord_roots import SpanNote

CHORALES = 20
MOST_QUARTERS = 4.0
TOUCH = 1e-6
WRITTEN_ABOVE = {"bach/bwv184.5": 7, "bach/bwv145.5": 2}
"""Semitones from the analysis up to the score, where they differ."""


@dataclass(frozen=True)
class Item:
    """A numeral: its chorale, root as the analysis has it, root as the score has it, and notes."""

    chorale: str
    root: int
    root_in_score: int
    notes: tuple[SpanNote, ...]
    length_beats: float

    @property
    def at_start(self) -> list[int]:
        """Pitches that sound when the numeral begins."""
        return sorted({n.pitch for n in self.notes if n.start_beats <= 0 < n.start_beats + n[1]})


def load_items() -> list[Item]:
    """Every numeral of every usable chorale, in order; takes about ten seconds."""
    folder = Path(music21.__file__).parent / "corpus/bach/choraleAnalyses"
    names = list(corpus.chorales.Iterator(1, CHORALES, returnType="filename"))
    items = []
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for number, name in enumerate(names, 1):
            score = corpus.parse(name)
            text = folder / f"riemenschneider{number:03d}.rntxt"
            analysis = converter.parse(text, format="romantext")
            items += _items(name, score, analysis)
    return items


def _items(name, score, analysis) -> list[Item]:
    numerals = list(analysis.flatten().getElementsByClass("RomanNumeral"))
    end = max(float(n.offset + n.quarterLength) for n in numerals)
    if len(score.parts) != 4 or abs(end - float(score.highestTime)) > 1:
        return []
    sounding = [
        (float(note.offset), float(note.quarterLength), pitch.midi)
        for part in score.parts
        for note in part.flatten().notes
        for pitch in note.pitches
    ]
    items = []
    for numeral in numerals:
        begin = float(numeral.offset)
        length = min(float(numeral.quarterLength), MOST_QUARTERS)
        root = numeral.root().pitchClass
        notes = tuple(
            SpanNote(start - begin, lasts, pitch)
            for start, lasts, pitch in sounding
            if min(start + lasts, begin + length) - max(start, begin) > TOUCH
        )
        in_score = (root + WRITTEN_ABOVE.get(name, 0)) % 12
        item = Item(name, root, in_score, notes, length)
        if item.at_start:
            items.append(item)
    return items
