"""Pitch: spellings on the line of fifths, note names, frequencies.

MIDI note 60 is C4. A spelling is a letter with accidentals and no octave.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from live.theory.errors import FieldError

_LETTERS_BY_FIFTHS = "FCGDAEB"
_NATURAL_PITCH_CLASS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_ACCIDENTALS = r"[#♯]{0,2}|[b♭]{1,2}|x|𝄪|𝄫"
_ALTER_OF_SIGN = {"#": 1, "♯": 1, "b": -1, "♭": -1, "x": 2, "𝄪": 2, "𝄫": -2}
_SPELLING = re.compile(rf"([A-Ga-g])({_ACCIDENTALS})")
_NOTE = re.compile(rf"([A-Ga-g](?:{_ACCIDENTALS}))(-?[0-9]{{1,2}})")
_DEGREE_ACCIDENTAL = re.compile(r"(?<![A-Za-z])b+(?=[\dIViv])")
# A letter and flats, then no other word than the start of a chord quality.
_NAME_ACCIDENTAL = re.compile(r"(?<![A-Za-z])([A-G])(bb?)(?=m|dim|aug|sus|add|[^a-z]|$)")

PITCH_CLASS_BITS = tuple(1 << pitch % 12 for pitch in range(128))
"""The bit of each MIDI note's pitch class in a mask, C the lowest."""

MAX_ACCIDENTALS = 2
"""A note name carries at most a double sharp or a double flat."""


@dataclass(frozen=True, slots=True)
class Spelling:
    """A letter with its accidentals, as a place on the line of fifths.

    Args:
        fifths: fifths above C: C = 0, G = 1, F = -1, F# = 6, Bb = -2; any integer.
    Thread: any; immutable.
    Source: line of fifths, common practice (Temperley 2001, The Cognition of Basic Musical
        Structures, chapter 5).
    """

    fifths: int

    @property
    def letter(self) -> str:
        """The letter, A to G."""
        return _LETTERS_BY_FIFTHS[(self.fifths + 1) % 7]

    @property
    def alter(self) -> int:
        """Semitones the accidentals add: 1 for a sharp, -1 for a flat."""
        return (self.fifths + 1) // 7

    @property
    def pitch_class(self) -> int:
        """0 to 11, C = 0."""
        return self.fifths * 7 % 12

    @property
    def name(self) -> str:
        """ASCII name: `Bb`, `F#`, `Bbb`, `F##`."""
        return self.letter + ("#" if self.alter > 0 else "b") * abs(self.alter)

    @property
    def pretty(self) -> str:
        """Name with music signs, double accidentals as one sign."""
        sign = "♯" if self.alter > 0 else "♭"
        double = "𝄪" if self.alter > 0 else "𝄫"
        pairs, rest = divmod(abs(self.alter), 2)
        return self.letter + sign * rest + double * pairs

    def enharmonic(self, max_sharps: int, max_flats: int) -> Spelling:
        """The same pitch class within the given number of accidentals.

        Args:
            max_sharps: most sharps allowed, 1 or more.
            max_flats: most flats allowed, 1 or more.
        Returns: this spelling if it is within the limits, else the nearest on the line of fifths.
        """
        fifths = self.fifths
        while (fifths + 1) // 7 > max_sharps:
            fifths -= 12
        while (fifths + 1) // 7 < -max_flats:
            fifths += 12
        return self if fifths == self.fifths else Spelling(fifths)


def parse_spelling(text: str) -> Spelling:
    """Read a note name without octave.

    Args:
        text: letter A to G in either case, then up to two of `#` `♯` `b` `♭` (or `x` for a
            double sharp); `bb` is B flat and `b` is B.
    Raises: FieldError for anything else.
    """
    match = _SPELLING.fullmatch(text.strip())
    if match is None:
        raise FieldError("note name", "a letter A to G with up to two sharps or flats", text)
    alter = sum(_ALTER_OF_SIGN[sign] for sign in match[2])
    return Spelling(_LETTERS_BY_FIFTHS.index(match[1].upper()) - 1 + 7 * alter)


def octave_of(midi: int, spelling: Spelling) -> int:
    """The octave number that goes with a spelling: C4 = 60, so Cb4 = 59 and B#3 = 60."""
    return (midi - spelling.alter) // 12 - 1


def note_name(midi: int, spelling: Spelling) -> str:
    """Name with octave, for example `Bb3`.

    Args:
        midi: note number; its pitch class must be that of `spelling`.
        spelling: the name to use.
    """
    return f"{spelling.name}{octave_of(midi, spelling)}"


def parse_note(text: str) -> int:
    """Read a note by name and octave (`E1`, `Bb3`, `F♯2`) or by number (`28`).

    Returns: MIDI note number, 0 to 127 inclusive.
    Raises: FieldError when it is neither, or outside the range.
    """
    allowed = "a name with octave such as E1 or Bb3 (C4 = 60), or a number; 0 to 127 inclusive"
    stripped = text.strip()
    match = _NOTE.fullmatch(stripped)
    if match is not None:
        spelling = parse_spelling(match[1])
        midi = _NATURAL_PITCH_CLASS[spelling.letter] + spelling.alter + 12 * (int(match[2]) + 1)
    elif re.fullmatch(r"[0-9]{1,4}", stripped):
        midi = int(stripped)
    else:
        raise FieldError("note", allowed, text)
    if not 0 <= midi <= 127:
        raise FieldError("note", allowed, text)
    return midi


def frequency_hz(midi: float, a4_hz: float = 440.0) -> float:
    """Frequency in twelve-tone equal temperament.

    Args:
        midi: note number, fractions allowed; 69 is A4.
        a4_hz: tuning of A4 in hertz, above 0.
    Source: ISO 16:1975 (A4 = 440 Hz).
    """
    return float(a4_hz * 2.0 ** ((midi - 69) / 12))


def pretty(text: str) -> str:
    """Show names and degree labels with music signs: `b6` as `♭6`, `F#` as `F♯`, `Bb` as `B♭`."""
    flats = _DEGREE_ACCIDENTAL.sub(lambda match: "♭" * len(match[0]), text)
    flats = _NAME_ACCIDENTAL.sub(lambda match: match[1] + "♭" * len(match[2]), flats)
    return flats.replace("#", "♯").replace("♭♭", "𝄫").replace("♯♯", "𝄪")


def mask_of(pitches: Iterable[int]) -> int:
    """MIDI notes, or semitones from 0 to 127, as a mask of pitch classes: bit 0 for C, or for 0."""
    mask = 0
    for pitch in pitches:
        mask |= PITCH_CLASS_BITS[pitch]
    return mask
