"""Roman numerals: read in a key, and written for a chord in a key.

Conventions:
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
- `V7/V` is the chord before the slash in the key of the one after it: major after a capital, minor
  after a small letter. Only one slash, and only before a plain numeral.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from live.theory.chords import Chord, chord_on, find_quality, intervals_of
from live.theory.errors import FieldError
from live.theory.keys import Key, degree_spelling
from live.theory.pitch import Spelling
from live.theory.scales import Scale, find_scale

_SYMBOL = r"([#♯b♭]{0,2})(VII|VI|V|IV|III|II|I|vii|vi|v|iv|iii|ii|i)"
_NUMERAL = re.compile(_SYMBOL + r"(?![IViv])(.*)")
_OF = re.compile(_SYMBOL)
_LOOKS_ROMAN = re.compile(r"[#♯b♭]*[IViv]")
_NUMBERS = ("i", "ii", "iii", "iv", "v", "vi", "vii")
_MAJOR_STEPS = (0, 2, 4, 5, 7, 9, 11)
_WRITTEN = {"m": "", "dim": "°", "dim7": "°7", "m7b5": "ø7", "aug": "+"}
_DOMINANT = 5
_LEADING = 7

Kind = Literal["own", "borrowed", "secondary", "outside"]


@dataclass(frozen=True, slots=True)
class Numeral:
    """A chord's place in a key.

    Args:
        text: as `numeral_chord` reads it, without the bass: `V7`, `bVI`, `iv`, `V7/V`.
        kind: `own` to the key (its scale; in minor also V and vii° with the leading note),
            `borrowed` from the other mode on the tonic or the phrygian, `secondary`: dominant or
            leading-note chord of another degree; `outside`: none of these.
    """

    text: str
    kind: Kind


def looks_roman(text: str) -> bool:
    """Whether a chord is written as a numeral and not as a symbol."""
    return _LOOKS_ROMAN.match(text) is not None


def numeral_chord(symbol: str, key: Key, at: int = 0) -> Chord:
    """Read a numeral.

    Args:
        symbol: see the module's conventions.
        key: what it is counted in.
        at: characters that stand before it in a longer text, for the place in the error.
    Raises: FieldError that names the character at fault, counted from 1.
    """
    match = _NUMERAL.fullmatch(symbol)
    if match is None:
        raise FieldError(
            "progression",
            "a numeral I to VII, all capitals (major) or all small (minor)",
            symbol,
            f"character {at + 1}",
        )
    accidentals, numeral, quality = match.groups()
    suffix = _numeral_quality(quality, small=numeral.islower())
    if suffix is None and "/" in quality:
        first, _, other = symbol.rpartition("/")
        return numeral_chord(first, _key_of(other, at + len(first) + 1, key), at)
    if suffix is None:
        allowed = "a quality such as 7, maj7, °, ø7, sus4, (add9), or /V"
        place = f"character {at + match.start(3) + 1}"
        raise FieldError("progression", allowed, symbol, place)
    number = _NUMBERS.index(numeral.lower()) + 1
    shift = sum(1 if sign in "#♯" else -1 for sign in accidentals)
    alter = _root_alter(number, shift, key.scale, raised=_stands_raised(number, suffix))
    return chord_on(degree_spelling(key.tonic, number, alter).enharmonic(2, 1), suffix)


def _key_of(symbol: str, at: int, key: Key) -> Key:
    """The key that a secondary chord is counted in: the numeral after the slash as its tonic."""
    if _OF.fullmatch(symbol) is None:
        allowed = "a plain numeral I to VII after the slash"
        raise FieldError("progression", allowed, symbol, f"character {at + 1}")
    chord = numeral_chord(symbol, key, at)
    return Key(chord.root, find_scale("minor" if 3 in chord.intervals else "major"))


def _stands_raised(number: int, suffix: str) -> bool:
    return number in {6, 7} and {3, 6} <= set(intervals_of(suffix))


def _numeral_quality(text: str, *, small: bool) -> str | None:
    """The chord suffix of a numeral: small letters ask for a minor third, or none at all."""
    if not small:
        return find_quality(text)
    minor = find_quality("m" + text)
    if minor is not None:
        return minor
    other = find_quality(text)
    return other if other is not None and 4 not in intervals_of(other) else None


def _root_alter(number: int, shift: int, scale: Scale, *, raised: bool) -> int:
    """Semitones from the major-scale degree to the chord's root; see the module's conventions."""
    own = _own_alter(number, scale)
    if shift > 0:
        return min(own, 0) + shift
    if shift < 0:
        return max(own, 0) + shift
    return max(own, 0) if raised else own


def _own_alter(number: int, scale: Scale) -> int:
    own = [alter for place, alter in scale.formula if place == number]
    if own:
        return min(own, key=abs)
    return dict(find_scale("minor" if scale.is_minor else "major").formula)[number]


def numeral_of(chord: Chord, key: Key) -> Numeral:
    """Write a chord as a numeral of the key; a bass note is left out.

    Reading the text back gives the same root and tones. A chord that belongs to the key is written
    so; else one borrowed from the other mode; else a dominant (or leading-note) chord of a degree
    of the key; else the altered degree.
    """
    return _numeral_of(chord.root, chord.suffix, key)


@lru_cache(maxsize=1024)
def _numeral_of(root: Spelling, suffix: str, key: Key) -> Numeral:
    plain = _placed(root, suffix, key)
    notes = {(root.pitch_class + step) % 12 for step in intervals_of(suffix)}
    if notes <= _own_notes(key, root.pitch_class):
        return Numeral(plain, "own")
    for other in _lenders(key, root):
        if notes <= other.pitch_classes:
            return Numeral(plain, "borrowed")
    of = _secondary(root, suffix, key)
    return Numeral(of, "secondary") if of else Numeral(plain, "outside")


def _own_notes(key: Key, root_pc: int) -> set[int]:
    """The key's notes; in minor also those of its dominant with the leading note."""
    own = set(key.pitch_classes)
    leading = (key.tonic_pc - 1) % 12
    if key.scale.is_minor and root_pc in {leading, (key.tonic_pc + 7) % 12}:
        own |= {leading}
    return own


def _lenders(key: Key, root: Spelling) -> list[Key]:
    """Keys on the same tonic that chords are borrowed from; the phrygian lends only its bII."""
    minor = ("major", "harmonic minor", "melodic minor")
    names = [*(minor if key.scale.is_minor else ("minor", "harmonic minor"))]
    if root.pitch_class == (key.tonic_pc + 1) % 12:
        names.append("phrygian")
    return [Key(key.tonic, find_scale(name)) for name in names]


def _secondary(root: Spelling, suffix: str, key: Key) -> str | None:
    """`V7/V` or `vii°7/ii` where the chord leads to a major or minor degree of the key."""
    intervals = set(intervals_of(suffix))
    if {4, 7} <= intervals and 11 not in intervals and suffix not in {"6", "6/9"}:
        number, target = _DOMINANT, (root.pitch_class + 5) % 12
    elif {3, 6} <= intervals:
        number, target = _LEADING, (root.pitch_class + 1) % 12
    else:
        return None
    if target == key.tonic_pc or target not in key.pitch_classes:
        return None
    for third, quality in ((4, ""), (3, "m")):
        if {(target + third) % 12, (target + 7) % 12} <= _own_notes(key, target):
            goal = _placed(key.spell(target), quality, key)
            return f"{_worded(number, suffix)}/{goal}"
    return None


def _placed(root: Spelling, suffix: str, key: Key) -> str:
    """The numeral with its accidental: the plain one if it fits, else by the root's own letter."""
    above = (root.pitch_class - key.tonic_pc) % 12
    fits = [
        (shift != 0, degree_spelling(key.tonic, number, alter).letter != root.letter, shift, number)
        for number in range(1, 8)
        for shift in (0, -1, 1, -2, 2)
        for alter in [_root_alter(number, shift, key.scale, raised=_stands_raised(number, suffix))]
        if (_MAJOR_STEPS[number - 1] + alter) % 12 == above
    ]
    _, _, shift, number = min(fits, key=lambda fit: (fit[0], abs(fit[2]), fit[1], fit[2]))
    minor = (root.pitch_class + 3) % 12 in key.pitch_classes and number != _DOMINANT
    return ("#" if shift > 0 else "b") * abs(shift) + _worded(number, suffix, minor=minor)


def _worded(number: int, suffix: str, *, minor: bool = False) -> str:
    """The numeral and quality on a degree; small letters for a minor third.

    A chord without a third is small if the key's own chord there is minor; the fifth degree not.
    """
    numeral = _NUMBERS[number - 1]
    thirds = {3, 4} & set(intervals_of(suffix))
    if 4 in thirds or not (thirds or minor):
        return numeral.upper() + _WRITTEN.get(suffix, suffix)
    if suffix in _WRITTEN:
        return numeral + _WRITTEN[suffix]
    bare = suffix.removeprefix("m")
    return numeral + (bare if find_quality("m" + bare) == suffix else suffix)
