"""Progressions: chords by the bar, written as Roman numerals or chord symbols, with repeats.

Numerals are read as `live.theory.numerals` says. Repeats: `(i VI)x2` or `(i VI)×2` plays a group
that often; `|: i VI :|` twice, `|: i VI :|x3` three times; `%` is the chord before it once more.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from fractions import Fraction

from live.theory.chords import Chord, parse_chord
from live.theory.errors import FieldError
from live.theory.keys import Key
from live.theory.numerals import looks_roman, numeral_chord

_TOKEN = re.compile(
    r"(?P<open>\|:|\()|(?P<close>:\||\))(?:[x×](?P<times>[^\s,|():]*))?"
    r"|(?P<word>(?:\([^\s,|()]*\)|:(?!\|)|[^\s,|():])+)|(?P<gap>[\s,]|\|(?!:))"
)
_TIMES = re.compile(r"[0-9]{1,2}")
_LENGTH = re.compile(r"[0-9]{1,3}(\.[0-9]{1,6})?|\.[0-9]{1,6}|[0-9]{1,3}/[1-9][0-9]{0,2}")
_MAX_BARS = 64
_MAX_TIMES = 64
MAX_CHORDS = 1024
"""Most chords of a progression with its repeats written out."""


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
            `2`, `0.5`, `3/4`) follows, for example `i VI iv v` or `Dm:2 Bb:1 C:1`; repeats as the
            module says, one inside the other if wanted.
        key: what the numerals are counted in.
    Raises: FieldError that names the character at fault, counted from 1.
    """
    groups: list[list[Stretch]] = [[]]
    opened: list[tuple[str, int]] = []
    at = 0
    while at < len(text):
        match = _TOKEN.match(text, at)
        if match is None or (match["close"] and not opened):
            allowed = "chords, (...)x2 or |: ... :|, each opened before it is closed"
            raise FieldError("progression", allowed, text, f"character {at + 1}")
        if match["open"]:
            opened.append((match["open"], at))
            groups.append([])
        elif match["close"]:
            _close(match, groups, opened)
        elif match["word"]:
            groups[-1].append(_stretch(match["word"], at, key, groups[-1]))
        if len(groups[-1]) > MAX_CHORDS:
            allowed = f"at most {MAX_CHORDS} chords, repeats written out"
            raise FieldError("progression", allowed, text, f"character {at + 1}")
        at = match.end()
    if opened:
        allowed = "each ( closed by a ) and each |: by a :|"
        raise FieldError("progression", allowed, text, f"character {opened[-1][1] + 1}")
    if not groups[0]:
        allowed = "chords such as i VI iv v, or Dm:2 Bb:1 C:1"
        raise FieldError("progression", allowed, text, "character 1")
    return Progression(tuple(groups[0]), text)


def _close(
    match: re.Match[str], groups: list[list[Stretch]], opened: list[tuple[str, int]]
) -> None:
    """End the innermost group and put it, as often as asked, into the one around it."""
    sign, at = opened.pop()
    closing = ")" if sign == "(" else ":|"
    if match["close"] != closing:
        allowed = f"{closing}, which closes {sign}"
        raise FieldError("progression", allowed, match["close"], f"character {match.start() + 1}")
    group = groups.pop()
    if not group:
        allowed = "one chord or more to repeat"
        raise FieldError("progression", allowed, sign + closing, f"character {at + 1}")
    times = 2
    if match["times"] is not None:
        given = match["times"]
        times = int(given) if _TIMES.fullmatch(given) else 0
        if not 1 <= times <= _MAX_TIMES:
            allowed = f"how often, 1 to {_MAX_TIMES} inclusive, such as x2"
            place = f"character {match.start('times') + 1}"
            raise FieldError("progression", allowed, given, place)
    elif sign == "(":
        allowed = "how often after the parenthesis, such as x2"
        raise FieldError("progression", allowed, ")", f"character {match.end() + 1}")
    groups[-1].extend(group * min(times, MAX_CHORDS // len(group) + 1))


def _stretch(word: str, at: int, key: Key, before: list[Stretch]) -> Stretch:
    symbol, colon, length = word.partition(":")
    bars = _length(length, at + len(symbol) + 1) if colon else Fraction(1)
    if symbol == "%":
        if not before:
            allowed = "a chord before % in the same group"
            raise FieldError("progression", allowed, word, f"character {at + 1}")
        return replace(before[-1], bars=bars if colon else before[-1].bars)
    if looks_roman(symbol):
        chord = numeral_chord(symbol, key, at)
    elif symbol[:1].upper() not in tuple("ABCDEFG"):
        allowed = "a numeral I to VII or i to vii, or a root A to G; then a quality"
        raise FieldError("chord", allowed, symbol, f"character {at + 1}")
    else:
        chord = parse_chord(symbol, at)
    return Stretch(chord, bars, symbol)


def _length(text: str, at: int) -> Fraction:
    bars = Fraction(text) if _LENGTH.fullmatch(text) else Fraction(0)
    if not 0 < bars <= _MAX_BARS:
        allowed = f"bars above 0, at most {_MAX_BARS}, such as 2 or 0.5"
        raise FieldError("length", allowed, text, f"character {at + 1}")
    return bars
