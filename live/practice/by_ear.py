"""What is heard when a degree is asked by ear: the key made clear, then the asked note. Pure.

A degree is heard against its key (common practice, no source): the tones of the tonic's triad come
first, up from the tonic and back to it, then a rest, then the note that is to be found. They are
single notes, so that a bass of one voice can play them.
"""

from __future__ import annotations

import random
from typing import Final

from live.clock.units import TICKS_PER_BEAT, beats_to_ticks
from live.notes.phrase import PhraseNote
from live.theory.keys import Key
from live.theory.scales import Scale

KEY_EVERY_BEATS: Final = 0.5
KEY_LENGTH_BEATS: Final = 0.4
ASKED_AT_BEATS: Final = 3
ASKED_LENGTH_BEATS: Final = 2
"""Four eighths and a rest of a beat come before the asked note, which lasts for two beats (own
choice)."""
KEY_VELOCITY: Final = 70
ASKED_VELOCITY: Final = 85
"""Moderate, the asked note above the others (own choice)."""

_FIFTH: Final = 7


def dictated(
    key: Key, note: int, compass: tuple[int, int], loudest: int, chance: random.Random
) -> tuple[PhraseNote, ...]:
    """The notes by which a degree is asked, the asked one last; one sounds at a time.

    Args:
        key: the key that is made clear.
        note: a MIDI note of the degree, in any octave.
        compass: lowest and highest MIDI note, inclusive, an octave apart or more.
        loudest: greatest velocity, 1 to 127.
        chance: chooses the asked note's octave.
    Returns: onsets and lengths in ticks, 960 to a beat.
    """
    low, high = compass
    asked = chance.choice([n for n in range(low, high + 1) if (n - note) % 12 == 0])
    tonic = _tonic(key, low, high)
    notes = [
        PhraseNote(
            beats_to_ticks(KEY_EVERY_BEATS * place),
            beats_to_ticks(KEY_LENGTH_BEATS),
            _within(tonic + step, high),
            min(KEY_VELOCITY, loudest),
        )
        for place, step in enumerate(key_steps(key.scale))
    ]
    at, length = ASKED_AT_BEATS * TICKS_PER_BEAT, ASKED_LENGTH_BEATS * TICKS_PER_BEAT
    return (*notes, PhraseNote(at, length, asked, min(ASKED_VELOCITY, loudest)))


def key_steps(scale: Scale) -> tuple[int, ...]:
    """Semitones above the tonic that make a key clear: 1 3 5 1, as far as the scale has them.

    The third is that of the third degree in a scale of seven notes, else the major one if both are
    there. Without a perfect fifth a fifth is taken that makes a triad with the third.
    """
    steps = scale.steps
    thirds = [step for step in (4, 3) if step in steps]
    if len(steps) == 7 and steps[2] in thirds:
        thirds = [steps[2]]
    others = (8, 6) if thirds[:1] == [4] else (6, 8)
    fifths = [step for step in (_FIFTH, *others) if step in steps]
    return (0, *thirds[:1], *fifths[:1], 0)


def _tonic(key: Key, low: int, high: int) -> int:
    """The highest tonic with room for the fifth above it, else the highest."""
    tonics = [n for n in range(low, high + 1) if n % 12 == key.tonic_pc]
    roomy = [n for n in tonics if n + max(key_steps(key.scale)) <= high]
    return max(roomy or tonics)


def _within(note: int, high: int) -> int:
    """An octave lower where there is no room above: an octave of compass has room for each tone."""
    return note if note <= high else note - 12
