"""Harmony under the answer: the chord at each tick, its tones, and the notes that fit it.

With a progression the chords are read from it; without one a chord is inferred for each bar of
the call, the answer follows the same chords and comes home in its last bar.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, field
from itertools import accumulate
from math import lcm
from typing import Final

from live.answer.listen import BarHeard, Heard
from live.notes.phrase import Brief
from live.theory.chords import Chord
from live.theory.keys import Key

_SUFFIXES: Final[dict[tuple[int, ...], str]] = {
    (0, 4, 7): "",
    (0, 3, 7): "m",
    (0, 3, 6): "dim",
    (0, 4, 8): "aug",
    (0, 7): "5",
}

# Inference weights, our own: a note outside the triad costs half of what a note inside earns,
# the lowest note speaks for its root, and home wins near ties.
_OUTSIDE_COST: Final = 0.5
_BASS_BONUS: Final = 0.15
_TONIC_BONUS: Final = 0.12

_LETTERS: Final = "CDEFGAB"
_LETTER_STEPS: Final = (0, 1, 1, 2, 2, 3, 4, 4, 5, 5, 6, 6)
"""Letters above the root by semitones, as chords are spelled (6 and 8 are altered fifths)."""


@dataclass(frozen=True, slots=True)
class Ground:
    """A chord and the pitch classes a bass may use over it.

    Args:
        chord: the chord.
        tones: its pitch classes; the bass of a slash chord counts.
        fit: pitch classes allowed here: chord tones, and the key's notes except those that
            the chord replaces by an altered one (C under an A major chord in D minor).
        bottom_pc: the pitch class a bass plays first: the slash bass, otherwise the root.
    """

    chord: Chord = field(hash=False)  # slow to hash, and the rest tells grounds apart well enough
    tones: frozenset[int]
    fit: frozenset[int]
    bottom_pc: int


class Harmony:
    """Chords by answer tick, looked up on demand. Not shared between threads.

    Args:
        brief: gives key, metre, form and progression.
        heard: the call, used when there is no progression.
    """

    def __init__(self, brief: Brief, heard: Heard) -> None:
        self._brief = brief
        self._key = brief.key
        self._inferred = _inferred_chords(heard, brief.key, brief.answer_bars)
        stretches = brief.progression.stretches if brief.progression else ()
        # Parts of a bar, so that all chords begin on whole ones.
        self._parts = lcm(*(stretch.bars.denominator for stretch in stretches))
        self._ends = list(accumulate(int(s.bars * self._parts) for s in stretches))
        self._by_tick: dict[int, Ground] = {}
        self._by_chord: dict[Chord, Ground] = {}

    def at(self, tick: int) -> Ground:
        """The ground at `tick` from the answer's first bar line; the end and later included.

        One and the same for equal chords.
        """
        found = self._by_tick.get(tick)
        if found is None:
            chord = self._chord_at(tick)
            found = self._by_chord.get(chord)
            if found is None:
                found = self._by_chord[chord] = ground_of(chord, self._key)
            self._by_tick[tick] = found
        return found

    def _chord_at(self, tick: int) -> Chord:
        brief, bar_ticks = self._brief, self._brief.metre.bar_ticks
        if brief.progression is not None:
            place = (brief.answer_first_bar * bar_ticks + tick) * self._parts // bar_ticks
            at = bisect_right(self._ends, place % self._ends[-1])
            return brief.progression.stretches[at].chord
        bar_index = tick // bar_ticks
        return self._inferred[min(bar_index, len(self._inferred) - 1)]


def ground_of(chord: Chord, key: Key) -> Ground:
    """The chord with its tones and every pitch class that fits it in `key`."""
    tones, scale = chord.pitch_classes, key.pitch_classes
    borrowed = {_letter(chord, pc) for pc in tones if pc not in scale}
    kept = {pc for pc in scale if key.spell(pc).letter not in borrowed}
    bottom = chord.root if chord.bass is None else chord.bass
    return Ground(chord, tones, tones | kept, bottom.pitch_class)


def triads(key: Key, weights: tuple[int, ...] = (0,) * 12) -> list[Chord]:
    """A chord on each degree of the key, from the key's own notes, tonic first.

    A scale that offers both thirds takes the one with more weight in `weights` (by pitch
    class), the major third on a tie; where there is no fifth or third the chord goes without.
    """
    roots = sorted(key.pitch_classes, key=lambda pc: (pc - key.tonic_pc) % 12)
    return [_triad(root, key, weights) for root in roots]


def _triad(root: int, key: Key, weights: tuple[int, ...]) -> Chord:
    scale, bottom = key.pitch_classes, key.spell(root)

    def misspelled(step: int, letters: int) -> bool:
        """The note `step` semitones above the root is not that many letters above it."""
        letter = key.spell(root + step).letter
        return (_LETTERS.index(letter) - _LETTERS.index(bottom.letter)) % 7 != letters

    def weight(step: int) -> int:
        return weights[(root + step) % 12]

    thirds = [step for step in (4, 3) if (root + step) % 12 in scale]
    thirds.sort(key=lambda step: (misspelled(step, 2), -weight(step)))
    fifths = [step for step in (7, 6, 8) if (root + step) % 12 in scale]
    fifths.sort(key=lambda step: (step != 7, misspelled(step, 4)))
    intervals = (0, *thirds[:1], *fifths[:1])
    return Chord(bottom, intervals, _SUFFIXES.get(intervals, ""))


def _inferred_chords(heard: Heard, key: Key, answer_bars: int) -> tuple[Chord, ...]:
    chords = [_inferred(bar, key) for bar in heard.bars]
    # Without a progression the last bar comes home: 80% of answers end on the tonic
    # (974 tunes with four-bar call and answer, measured on the folk tunes in music21).
    body = [chords[bar % len(chords)] for bar in range(answer_bars - 1)]
    everything = tuple(sum(column) for column in zip(*(b.weights for b in heard.bars), strict=True))
    return (*body, triads(key, everything)[0])


def _inferred(bar: BarHeard, key: Key) -> Chord:
    """The triad of the key that covers most of a bar's sounding time."""
    total = sum(bar.weights)
    candidates = triads(key, bar.weights)
    if not total:
        return candidates[0]

    def strength(chord: Chord) -> float:
        inside = sum(bar.weights[pc] for pc in chord.pitch_classes) / total
        bass = bar.lowest is not None and bar.lowest % 12 == chord.root_pc
        home = chord.root_pc == key.tonic_pc
        return inside - _OUTSIDE_COST * (1 - inside) + _BASS_BONUS * bass + _TONIC_BONUS * home

    return max(candidates, key=strength)


def _letter(chord: Chord, pitch_class: int) -> str:
    """The letter a chord tone is spelled with."""
    if chord.bass is not None and chord.bass.pitch_class == pitch_class:
        return chord.bass.letter
    above = _LETTER_STEPS[(pitch_class - chord.root_pc) % 12]
    return _LETTERS[(_LETTERS.index(chord.root.letter) + above) % 7]
