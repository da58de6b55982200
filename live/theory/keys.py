"""Keys: a tonic and a scale, and how every note is spelled in them."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from live.theory.errors import FieldError
from live.theory.own_scales import read_scale, written
from live.theory.pitch import MAX_ACCIDENTALS, Spelling, note_name, parse_spelling, pretty
from live.theory.scales import HARMONIC_CHROMATIC, Scale

_MAJOR_FIFTHS = (0, 2, 4, -1, 1, 3, 5)
_NATURAL = {(number, 0) for number in range(1, 8)}
_RAISED = {(number, 1) for number in (1, 2, 4, 5, 6)}
_LOWERED = {(number, -1) for number in (2, 3, 5, 6, 7)}
_MELODIC_CHROMATIC = _NATURAL | _RAISED | _LOWERED
_KEY = re.compile(r"([A-Ga-g])(?:([#♯b♭])|[\s-]*(sharp|flat)\b)?(.*)", re.IGNORECASE)
_SECOND_SIGN = re.compile(r"[#♯♭𝄪𝄫x]|b(?![a-z])")
_SIGN_OF_WORD = {"sharp": "#", "flat": "b"}


@dataclass(frozen=True, slots=True)
class Key:
    """A tonic with a scale.

    Args:
        tonic: spelled as the player typed it; F# minor and Gb minor stay apart.
        scale: the notes that belong to the key.
    Thread: any; immutable.
    """

    tonic: Spelling
    scale: Scale

    @property
    def name(self) -> str:
        """For example `D minor`, or `D my scale [0 1 5 7 8]`; `parse_key` reads it back."""
        return f"{self.tonic.name} {written(self.scale)}"

    @property
    def pretty(self) -> str:
        """The name with music signs, for example `F♯ dorian`."""
        return f"{self.tonic.pretty} {pretty(self.scale.name)}"

    @property
    def tonic_pc(self) -> int:
        """Pitch class of the tonic, 0 to 11."""
        return self.tonic.pitch_class

    @property
    def pitch_classes(self) -> frozenset[int]:
        """The key's pitch classes."""
        return frozenset((self.tonic_pc + step) % 12 for step in self.scale.steps)

    def contains(self, note: int) -> bool:
        """Say whether a MIDI note (or pitch class) belongs to the key."""
        return (note - self.tonic_pc) % 12 in self.scale.steps

    def spell(self, note: int, way: int = 0) -> Spelling:
        """Spell a MIDI note (or pitch class), in the key or outside it.

        Seven-note scales use each letter once. Notes outside are spelled as `outside_degree` says.
        Double sharps are kept, as leading notes need them. Double flats are kept in seven-note
        scales, and for the third, sixth and seventh of smaller ones; elsewhere they give way to the
        plainer name.

        Args:
            note: MIDI note or pitch class.
            way: above 0 when it moves up to the next semitone, below 0 when it moves down, 0 when
                the way is not known; a note of the key keeps its name.
        """
        return _spellings(self, (way > 0) - (way < 0))[note % 12]

    def note_name(self, note: int, way: int = 0) -> str:
        """Name of a MIDI note with octave, for example `Bb3`; `way` as in `spell`."""
        return note_name(note, self.spell(note, way))

    def outside_degree(self, step: int, way: int = 0) -> tuple[int, int]:
        """(number, alter) of a step outside the scale, against the major scale.

        A note on its way up is the raised degree below it (#1 #2 #4 #5 #6), one on its way down
        the lowered degree above it (b2 b3 b5 b6 b7), or a degree of the major scale, as long as
        one accidental writes it. All others, and notes with no known way, are those of the
        harmonic chromatic scale (b2, b3, #4, b6, b7 and the major-scale degrees).

        Args:
            step: semitones above the tonic, 0 to 11, not in the scale.
            way: as in `spell`.
        Source: melodic and harmonic chromatic scale, common practice, no source.
        """
        neighbour = (step - way) % 12
        if way and neighbour in self.scale.steps:
            number, alter = self.scale.formula[self.scale.steps.index(neighbour)]
            moved = (number, alter + way)
            single = abs(degree_spelling(self.tonic, *moved).alter) <= 1
            if single and moved in _MELODIC_CHROMATIC:
                return moved
        return HARMONIC_CHROMATIC[step]

    @property
    def signature(self) -> tuple[int, bool]:
        """Key signature for a Standard MIDI File: (sharps, is_minor).

        Returns: sharps above 0 or flats below 0, -7 to 7 inclusive, of the major or minor key on
            this tonic, whichever the scale's third is nearer; respelled if it needs more.
        """
        sharps = self.tonic.fifths - (3 if self.scale.is_minor else 0)
        while abs(sharps) > 7:
            sharps -= 12 if sharps > 0 else -12
        return sharps, self.scale.is_minor


def parse_key(text: str, own: Iterable[Scale] = ()) -> Key:
    """Read a key.

    Args:
        text: a tonic with at most one sharp or flat (sign, letter b or word), then a scale name
            or alias; none means major, `m` minor. `c` alone is C major, `bb minor` B flat minor.
            A scale may also be written out, `D [0 1 5 7 8]`.
        own: the player's own scales, found by name.
    Raises: FieldError naming the tonic or the scale that cannot be read.
    """
    allowed = "a tonic and a scale, such as D minor, F# dorian, Bb major"
    match = _KEY.fullmatch(text.strip())
    if match is None:
        raise FieldError("key", allowed, text)
    sign = match[2] or _SIGN_OF_WORD.get((match[3] or "").lower(), "")
    rest = match[4].strip(" -_")
    if _SECOND_SIGN.match(match[4]):
        raise FieldError("key", "a tonic with at most one sharp or flat", text)
    try:
        scale = read_scale("major" if rest in {"", "M"} else rest, own)
    except FieldError as error:
        raise FieldError("key", f"{allowed}; {error.allowed}", text) from error
    return Key(parse_spelling(match[1] + sign.lower()), scale)


def degree_spelling(tonic: Spelling, number: int, alter: int) -> Spelling:
    """Spell the degree (number 1 to 7, alter against the major scale) above a tonic."""
    return Spelling(tonic.fifths + _MAJOR_FIFTHS[number - 1] + 7 * alter)


@lru_cache(maxsize=1024)
def _spellings(key: Key, way: int) -> tuple[Spelling, ...]:
    """The spelling of each pitch class 0 to 11 in the key."""
    formula = dict(zip(key.scale.steps, key.scale.formula, strict=True))
    each_letter_once = [number for number, _ in key.scale.formula] == [1, 2, 3, 4, 5, 6, 7]
    by_step = []
    for step in range(12):
        number, alter = formula.get(step) or key.outside_degree(step, way)
        spelling = degree_spelling(key.tonic, number, alter)
        sparse_home = len(formula) < 7 and (number, alter) not in {(2, -1), (5, -1)}
        home = step in formula and (each_letter_once or sparse_home)
        by_step.append(spelling.enharmonic(MAX_ACCIDENTALS, MAX_ACCIDENTALS if home else 1))
    return tuple(by_step[(pitch_class - key.tonic_pc) % 12] for pitch_class in range(12))
