"""Chords: symbols, their notes, and the role of each note."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from live.theory.chord_table import (
    ADDED,
    ADDED_ALIASES,
    ALIASES,
    FIFTHS,
    OMITTED,
    QUALITIES,
    ROLES,
)
from live.theory.errors import FieldError
from live.theory.pitch import Spelling, parse_spelling

_MODIFIER = re.compile(r"(add|no|omit)([b#]?\d{1,2})$")
_ROOT = re.compile(r"[A-Ga-g](?:##|♯♯|bb|♭♭|[#♯b♭x𝄪𝄫])?")


@dataclass(frozen=True, slots=True)
class Chord:
    """A chord as a root with intervals.

    Args:
        root: spelled root.
        intervals: semitones above the root, from 0, ascending; a ninth is 14.
        suffix: quality as written after the root, for example `maj7`; "" is major.
        bass: the lowest note when it is not the root.
    Thread: any; immutable.
    """

    root: Spelling
    intervals: tuple[int, ...]
    suffix: str
    bass: Spelling | None = None

    @property
    def name(self) -> str:
        """Symbol in ASCII: `Bbmaj7`, `Dm`, `Am/C`."""
        return self.root.name + self.suffix + (f"/{self.bass.name}" if self.bass else "")

    @property
    def pretty(self) -> str:
        """Symbol with music signs: `B♭maj7`."""
        suffix = re.sub(r"b(?=\d)", "♭", self.suffix).replace("#", "♯")
        return self.root.pretty + suffix + (f"/{self.bass.pretty}" if self.bass else "")

    @property
    def root_pc(self) -> int:
        """Pitch class of the root, 0 to 11."""
        return self.root.pitch_class

    @property
    def pitch_classes(self) -> frozenset[int]:
        """Pitch classes of the chord, the slash bass included."""
        return frozenset(_roles(self))

    def role(self, note: int) -> str:
        """Role of a MIDI note (or pitch class): `R`, `b3`, `5`, `9`, ..., or "" outside the chord.

        A slash bass that is no chord tone is named as a tension: C/D has D as `9`.
        """
        return _roles(self).get(note % 12, "")

    def spell(self, note: int) -> Spelling | None:
        """Spelling of a MIDI note (or pitch class) as a tone of the chord; None outside it.

        The chord's letters go up by thirds from the root: Bb in C7, C## as the #9 of B7#9.
        """
        role = self.role(note)
        if not role:
            return None
        if self.bass is not None and note % 12 == self.bass.pitch_class:
            return self.bass
        return Spelling(self.root.fifths + FIFTHS[role])


@lru_cache(maxsize=512)
def _roles(chord: Chord) -> dict[int, str]:
    """Role by pitch class. Shared between callers: never change it."""
    roles = {
        (chord.root_pc + interval) % 12: _role_of(interval, chord.suffix)
        for interval in chord.intervals
    }
    if chord.bass is not None and chord.bass.pitch_class not in roles:
        above = (chord.bass.pitch_class - chord.root_pc) % 12
        roles[chord.bass.pitch_class] = ROLES[above + 12 if above + 12 in ROLES else above]
    return roles


def _role_of(interval: int, suffix: str) -> str:
    return "bb7" if interval == 9 and suffix == "dim7" else ROLES[interval]


def spelled_above(
    root: Spelling, suffix: str, intervals: Iterable[int], step: int
) -> Spelling | None:
    """Spelling of the chord tone so many semitones (0 to 11) above the root; None outside it."""
    for interval in intervals:
        if interval % 12 == step:
            return Spelling(root.fifths + FIFTHS[_role_of(interval, suffix)])
    return None


def parse_chord(text: str, at: int = 0) -> Chord:
    """Read a chord symbol.

    Args:
        text: root, quality, and a bass note after a slash if wanted: `Bbmaj7`, `Dm(add9)`, `Am/C`.
        at: characters that stand before it in a longer text, for the place in the error.
    Raises: FieldError that names the character at fault, counted from 1.
    """
    match = _ROOT.match(text)
    if match is None:
        raise FieldError("chord", "a root A to G, then a quality", text, f"character {at + 1}")
    root, quality = parse_spelling(match[0]), text[match.end() :]
    suffix = find_quality(quality)
    if suffix is not None:
        return chord_on(root, suffix)
    quality, slash, bass = quality.rpartition("/")
    suffix = find_quality(quality) if slash else None
    if suffix is None:
        allowed = "a quality such as m, 7, maj7, m7b5, sus4, add9, m(add11)"
        raise FieldError("chord", allowed, text, f"character {at + match.end() + 1}")
    if _ROOT.fullmatch(bass) is None:
        place = f"character {at + len(text) - len(bass) + 1}"
        raise FieldError("chord", "a bass note A to G after the slash", text, place)
    return chord_on(root, suffix, parse_spelling(bass))


def chord_on(root: Spelling, suffix: str, bass: Spelling | None = None) -> Chord:
    """Build the chord of a known quality on a root; a bass equal to the root is left out."""
    other_bass = None if bass == root else bass
    return Chord(root, intervals_of(suffix), suffix, other_bass)


def intervals_of(suffix: str) -> tuple[int, ...]:
    """Semitones above the root of a canonical suffix, as `find_quality` returns it."""
    own = QUALITIES.get(suffix)
    return _modified(_bare(suffix))[1] if own is None else own


def _bare(suffix: str) -> str:
    return suffix.replace("(", "").replace(")", "")


def canonical(suffix: str) -> str:
    """The canonical form of a quality put together from known parts: `m7(add13)(no5)`.

    Raises: KeyError when a part is unknown; use `find_quality` for text that a user typed.
    """
    return suffix if suffix in QUALITIES else _modified(_bare(suffix))[0]


def find_quality(text: str) -> str | None:
    """Return the canonical suffix for a quality as typed, or None when it is unknown.

    A quality of the table, then tones added or left out: `m9(no5)`, `7(add13)`, `m7(add11)`.
    Parentheses do not matter; case matters only where `M` stands for major.
    """
    bare = re.sub(r"[()\s]", "", text).replace("♭", "b").replace("♯", "#")
    plain = re.sub(r"^M(?![AaIi])|^M(?=add)", "maj", bare).lower()
    for form in (bare, plain):
        if form in ALIASES:
            return ALIASES[form]
    for form in (bare, plain):
        if _MODIFIER.search(form):
            try:
                return _modified(form)[0]
            except KeyError:
                continue
    return None


@lru_cache(maxsize=1024)
def _modified(bare: str) -> tuple[str, tuple[int, ...]]:
    """Canonical suffix and intervals of a quality with tones added or left out.

    Raises: KeyError when a part is unknown, is there already or has nothing to leave out.
    """
    base, added, omitted = bare, set[str](), set[str]()
    while base not in ALIASES:
        match = _MODIFIER.search(base)
        if match is None or len(added) + len(omitted) > len(ADDED):
            raise KeyError(bare)
        base = base[: match.start()]
        if match[1] == "add":
            added.add(ADDED_ALIASES.get(match[2], match[2]))
        else:
            omitted.add(match[2])
    suffix, intervals = ALIASES[base], set(QUALITIES[ALIASES[base]])
    for name in omitted:
        if not intervals & set(OMITTED[name]):
            raise KeyError(name)
        intervals -= set(OMITTED[name])
    if {step % 12 for step in intervals} & {ADDED[name] % 12 for name in added}:
        raise KeyError(bare)
    names = sorted(added, key=ADDED.__getitem__)
    tail = "".join(f"(no{name})" for name in sorted(omitted))
    return with_added(suffix, names) + tail, tuple(
        sorted({*intervals, *(ADDED[name] for name in names)})
    )


def with_added(suffix: str, names: Iterable[str]) -> str:
    """A suffix with tones of `ADDED`, in this order: `m` with `9` has a name, most are appended."""
    bare = _bare(suffix)
    for name in names:
        bare += f"add{name}"
        whole = ALIASES.get(bare)
        suffix = f"{suffix}(add{name})" if whole is None else whole
    return suffix
