"""Progressions: chords by the bar, written as Roman numerals or chord symbols.

Roman numerals, as read here:
- Capitals are major, small letters minor; then a chord-symbol quality: `V7`, `ii7`, `Imaj7`,
  `vii°`, `viiø7`, `III+`, `i(add9)`. A figure is a chord symbol, never figured bass: `I6` adds a
  sixth.
- A plain numeral stands on the key's own degree: in D minor III, VI and VII are F, Bb and C.
  Minor-key convention: a diminished chord on 6 or 7 (`vi°`, `vii°`, `viiø7`) stands on the raised
  degree, so `vii°` in D minor is C#dim, as written in the trade.
- `#` raises the lower, `b` lowers the higher, of the key's own degree and the major scale's. So
  `bVI` and `VI` are the same in minor, `bVII` in major is the flat seventh, `#iv°` is right in
  either, and `#vi°` in minor stands on the raised sixth.
- A scale that lacks the degree borrows it from the major or minor scale, whichever its third fits.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from live.theory.chord_table import QUALITIES
from live.theory.chords import Chord, chord_on, find_quality, parse_chord
from live.theory.errors import FieldError
from live.theory.keys import Key, degree_spelling
from live.theory.scales import find_scale

_WORD = re.compile(r"[^\s,|]+")
_NUMERAL = re.compile(r"([#♯b♭]{0,2})(VII|VI|V|IV|III|II|I|vii|vi|v|iv|iii|ii|i)(?![IViv])(.*)")
_LOOKS_ROMAN = re.compile(r"[#♯b♭]*[IViv]")
_NUMBERS = ("i", "ii", "iii", "iv", "v", "vi", "vii")
_LENGTH = re.compile(r"[0-9]{1,3}(\.[0-9]{1,6})?|\.[0-9]{1,6}|[0-9]{1,3}/[1-9][0-9]{0,2}")
_MAX_BARS = 64


@dataclass(frozen=True, slots=True)
class Stretch:
    """One chord and how long it lasts.

    Args:
        chord: what sounds.
        bars: length in bars, above 0 and at most 64.
        text: the chord as it was written, without the length.
    """

    chord: Chord
    bars: Fraction
    text: str


@dataclass(frozen=True, slots=True)
class Progression:
    """Chords in order, repeating for ever.

    Args:
        stretches: one or more.
        text: the whole text as written.
    Thread: any; immutable.
    """

    stretches: tuple[Stretch, ...]
    text: str

    @property
    def bars(self) -> Fraction:
        """Length of one turn in bars."""
        return sum((stretch.bars for stretch in self.stretches), Fraction(0))

    def stretch_index_at(self, bar: Fraction | float) -> int:
        """Index of the stretch that sounds at a bar position, counted from 0 and repeating."""
        place = Fraction(bar) % self.bars
        last = len(self.stretches) - 1
        for index, stretch in enumerate(self.stretches[:last]):
            if place < stretch.bars:
                return index
            place -= stretch.bars
        return last

    def chord_at(self, bar: Fraction | float) -> Chord:
        """Return the chord at a bar position, counted from 0 and repeating."""
        return self.stretches[self.stretch_index_at(bar)].chord


def parse_progression(text: str, key: Key) -> Progression:
    """Read a progression: Roman numerals in the key or chord symbols, mixed if wanted.

    Args:
        text: chords parted by spaces, commas or bar lines, a bar each unless `:LENGTH` (in bars:
            `2`, `0.5`, `3/4`) follows, for example `i VI iv v` or `Dm:2 Bb:1 C:1`.
        key: what the numerals are counted in.
    Raises: FieldError that names the character at fault, counted from 1.
    """
    stretches = tuple(_stretch(word[0], word.start(), key) for word in _WORD.finditer(text))
    if not stretches:
        allowed = "chords such as i VI iv v, or Dm:2 Bb:1 C:1"
        raise FieldError("progression", allowed, text, "character 1")
    return Progression(stretches, text)


def _stretch(word: str, at: int, key: Key) -> Stretch:
    symbol, colon, length = word.partition(":")
    bars = _length(length, at + len(symbol) + 1) if colon else Fraction(1)
    if _LOOKS_ROMAN.match(symbol):
        return Stretch(_numeral_chord(symbol, at, key), bars, symbol)
    return Stretch(parse_chord(symbol, at), bars, symbol)


def _length(text: str, at: int) -> Fraction:
    bars = Fraction(text) if _LENGTH.fullmatch(text) else Fraction(0)
    if not 0 < bars <= _MAX_BARS:
        allowed = f"bars above 0, at most {_MAX_BARS}, such as 2 or 0.5"
        raise FieldError("length", allowed, text, f"character {at + 1}")
    return bars


def _numeral_chord(symbol: str, at: int, key: Key) -> Chord:
    match = _NUMERAL.fullmatch(symbol)
    if match is None:
        raise FieldError("progression", "a numeral I to VII", symbol, f"character {at + 1}")
    accidentals, numeral, quality = match.groups()
    suffix = _numeral_quality(quality, small=numeral.islower())
    if suffix is None:
        allowed = "a quality such as 7, maj7, °, ø7, sus4, (add9)"
        place = f"character {at + match.start(3) + 1}"
        raise FieldError("progression", allowed, symbol, place)
    number = _NUMBERS.index(numeral.lower()) + 1
    shift = sum(1 if sign in "#♯" else -1 for sign in accidentals)
    diminished = {3, 6} <= set(QUALITIES[suffix])
    alter = _root_alter(number, shift, key, raised=diminished and number in {6, 7})
    root = degree_spelling(key.tonic, number, alter).enharmonic(2, 1)
    return chord_on(root, suffix)


def _numeral_quality(text: str, *, small: bool) -> str | None:
    """The chord suffix of a numeral: small letters ask for a minor third, or none at all."""
    if not small:
        return find_quality(text)
    minor = find_quality("m" + text)
    if minor is not None:
        return minor
    other = find_quality(text)
    return other if other is not None and 4 not in QUALITIES[other] else None


def _root_alter(number: int, shift: int, key: Key, *, raised: bool) -> int:
    """Semitones from the major-scale degree to the chord's root; see the module's conventions."""
    own = _own_alter(number, key)
    if shift > 0:
        return min(own, 0) + shift
    if shift < 0:
        return max(own, 0) + shift
    return max(own, 0) if raised else own


def _own_alter(number: int, key: Key) -> int:
    own = [alter for place, alter in key.scale.formula if place == number]
    if own:
        return min(own, key=abs)
    return dict(find_scale("minor" if key.scale.is_minor else "major").formula)[number]
