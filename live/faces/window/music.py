"""What the window asks of theory, remembered, because it asks thirty times a second."""

from __future__ import annotations

import re
from functools import lru_cache

from live.theory.chords import Chord, parse_chord
from live.theory.degrees import Degree, Style, brightness, degree_of, leans_to
from live.theory.keys import parse_key
from live.theory.pitch import pretty
from live.theory.progressions import Progression, parse_progression

FAMILY_WORDS = {"home": "at home", "away": "leads away", "pull": "pulls home"}

key_named = lru_cache(maxsize=32)(parse_key)
chord_named = lru_cache(maxsize=64)(parse_chord)


def style_named(labels: str) -> Style:
    """The degree style of a snapshot's `labels`."""
    return "plain" if labels == "plain" else "major"


@lru_cache(maxsize=16)
def degree_labels(key_name: str, labels: str) -> tuple[str, ...]:
    """The degree of each of the 128 notes as it is shown, `♭3`."""
    key, style = key_named(key_name), style_named(labels)
    return tuple(pretty(degree_of(note, key).label(style)) for note in range(128))


@lru_cache(maxsize=16)
def key_brightness(key_name: str) -> tuple[float, ...]:
    """How much at home each of the 12 pitch classes is (C first), 0 outside the scale."""
    return brightness(key_named(key_name))


@lru_cache(maxsize=512)
def note_name(note: int, key_name: str) -> str:
    """Name without octave in the key's spelling, `B♭`."""
    return key_named(key_name).spell(note).pretty


def degree(note: int, key_name: str) -> Degree:
    """The degree of a note."""
    return degree_of(note, key_named(key_name))


@lru_cache(maxsize=512)
def leaning(note: int, key_name: str, labels: str) -> str:
    """What the note does and where it tends to go: `leads away, leans to ♭3`, `at home`."""
    words = FAMILY_WORDS[degree(note, key_name).family]
    target = leans_to(note, key_named(key_name))
    if target is None:
        return words
    return f"{words}, leans to {pretty(target.label(style_named(labels)))}"


@lru_cache(maxsize=512)
def role_in(note: int, chord_name: str) -> str:
    """The note's part in the chord, in words: `5 of B♭`, `root of D minor`, `not in C`."""
    chord: Chord = chord_named(chord_name)
    role = chord.role(note)
    if role == "R":
        return f"root of {chord.pretty}"
    return f"{pretty(role)} of {chord.pretty}" if role else f"not in {chord.pretty}"


def step_of(numeral: str) -> str:
    """The degree a numeral stands on, without what the chord's own name says: `III`, `V/V`."""
    return pretty(re.sub(r"(?<=[ivIV°ø+])[^ivIV/°ø+]+", "", numeral))


@lru_cache(maxsize=32)
def progression_named(text: str, key_name: str) -> Progression:
    """A progression in a key."""
    return parse_progression(text, key_named(key_name))
