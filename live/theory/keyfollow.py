"""Key following: which key is this in now, answered anew after every note.

A filter over the 24 major and minor keys. Before each new event the key may move on, rarely and
rather to a near key, so old evidence fades; then every key is weighed by what sounds in it. The
weights are learned (`key_table`, which says from what), and so is the power that turns what the
filter makes of them into chances that hold. One follower reads a single line, such as
a bass or a melody, by each note and the step to it; the other reads chords, by what is struck, what
sounds, and the bass.

Keys are numbered by tonic, 0 to 11 major and 12 to 23 minor, as long as they are only weighed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from live.theory.errors import FieldError
from live.theory.key_table import (
    CALM,
    CHORDS_BASS,
    CHORDS_MOVES,
    CHORDS_SOUNDING,
    CHORDS_STRUCK,
    LINE_MOVES,
    LINE_NOTE,
    LINE_STEP,
)
from live.theory.keyfind import numbered_keys
from live.theory.keys import Key

SURE = 0.6
"""Confidence from which a key is named: clearly more likely right than wrong (our choice)."""
CHORD_SPREAD_S = 0.03
"""Notes struck within this time are one chord (our choice; a rolled chord spreads about 19 ms)."""

Chances = list[float]
Moves = tuple[float, float, float, float, float, float]
"""Chances to stay, move a fifth up, a fifth down, to the relative, the parallel, to each other."""
ByMode = tuple[tuple[float, ...], tuple[float, ...]]
"""A row for major and one for minor, each from the tonic up by semitones."""


@dataclass(frozen=True, slots=True)
class KeyGuess:
    """What a follower makes of the notes so far.

    Fields: ranked, the 24 keys with their probabilities, best first, adding up to 1.
    """

    ranked: tuple[tuple[Key, float], ...]

    @property
    def key(self) -> Key | None:
        """The best key, or None: not sure yet."""
        return self.ranked[0][0] if self.confidence >= SURE else None

    @property
    def confidence(self) -> float:
        """How likely the best key is right: 1/24 (nothing heard) to 1. Measured: docs/theory.md."""
        return self.ranked[0][1]


def _guess(chances: Sequence[float], calm: float) -> KeyGuess:
    raised = _scaled([chance**calm for chance in chances])
    named = ((key, raised[index]) for index, key in numbered_keys())
    return KeyGuess(tuple(sorted(named, key=lambda row: -row[1])))


def _turned(rows: ByMode, pitch_class: int) -> tuple[float, ...]:
    """What a pitch class weighs in each of the 24 keys, as a factor of its chance."""
    return tuple(math.exp(row[(pitch_class - tonic) % 12]) for row in rows for tonic in range(12))


def _moved(chances: Chances, moves: Moves) -> Chances:
    """Chances before the next event: most stays, a little leaks to the near keys and to all."""
    stay, up, down, relative, parallel, other = moves
    major, minor = chances[:12], chances[12:]
    from_below = major[5:] + major[:5] + minor[5:] + minor[:5]
    from_above = major[7:] + major[:7] + minor[7:] + minor[:7]
    relatives = minor[9:] + minor[:9] + major[3:] + major[:3]
    parallels = minor + major
    ways = zip(chances, from_below, from_above, relatives, parallels, strict=True)
    return [
        other + stay * c + up * u + down * d + relative * r + parallel * p for c, u, d, r, p in ways
    ]


def _scaled(chances: Chances) -> Chances:
    total = 1.0 / sum(chances)
    return [chance * total for chance in chances]


def _checked(pitch: int) -> int:
    if not 0 <= pitch <= 127:
        raise FieldError("pitch", "a MIDI note, 0 to 127", pitch)
    return pitch


class LineFollower:
    """Follows the key of one line: a bass, a melody, one note at a time.

    Thread: one, the caller's. Cost of `update`: about 6 us, no I/O, no randomness.
    """

    def __init__(self) -> None:
        self._steps = _line_factors()
        self.reset()

    def reset(self) -> None:
        """Forget everything."""
        self._chances: Chances = [1 / 24] * 24
        self._before = 12

    def update(self, pitch: int) -> None:
        """Hear the next note.

        Args:
            pitch: MIDI note, 0 to 127.
        Raises: FieldError outside that range.
        """
        now = _checked(pitch) % 12
        moved = _moved(self._chances, LINE_MOVES)
        factors = self._steps[self._before][now]
        self._chances = _scaled([c * f for c, f in zip(moved, factors, strict=True)])
        self._before = now

    def guess(self) -> KeyGuess:
        """The keys ranked, from all that was heard."""
        return _guess(self._chances, CALM[0])


@lru_cache(maxsize=1)
def _line_factors() -> tuple[tuple[tuple[float, ...], ...], ...]:
    """Factors by the pitch class before (12: none) and the pitch class now."""
    first = tuple(_turned(LINE_NOTE, now) for now in range(12))
    rows = []
    for before in range(12):
        row = []
        for now in range(12):
            step = [
                math.exp(LINE_STEP[index // 12][(before - tonic) % 12][(now - tonic) % 12])
                for index, tonic in ((index, index % 12) for index in range(24))
            ]
            row.append(tuple(a * b for a, b in zip(first[now], step, strict=True)))
        rows.append(tuple(row))
    return (*rows, first)


class ChordFollower:
    """Follows the key of chords and voices together, in any number, with note-offs.

    Thread: one, the caller's. Cost of `update`: about 10 us, no I/O, no randomness.
    """

    def __init__(self) -> None:
        self.reset()

    def reset(self) -> None:
        """Forget everything, also what still sounds."""
        self._settled: Chances = [1 / 24] * 24
        self._chances = self._settled
        self._begin_s = -math.inf
        self._struck: set[int] = set()
        self._sounding: set[int] = set()

    def update(self, pitch: int, at_s: float) -> None:
        """Hear a note begin.

        Args:
            pitch: MIDI note, 0 to 127; one that already sounds is struck again.
            at_s: when, in seconds of any clock that does not run back; notes within
                `CHORD_SPREAD_S` of the first are one chord.
        Raises: FieldError for a pitch outside that range or a time that is not a number.
        """
        _checked(pitch)
        if not math.isfinite(at_s):
            raise FieldError("at_s", "a finite number of seconds", at_s)
        if at_s - self._begin_s > CHORD_SPREAD_S:
            self._settled = _moved(self._chances, CHORDS_MOVES)
            self._begin_s = at_s
            self._struck.clear()
        self._struck.add(pitch)
        self._sounding.add(pitch)
        self._weigh()

    def release(self, pitch: int) -> None:
        """Hear a note end; one that does not sound is passed over."""
        self._sounding.discard(pitch)

    def _weigh(self) -> None:
        low = min(self._sounding)
        bass = low % 12 if low in self._struck else None
        factors = _chord_factors(_mask(self._struck), _mask(self._sounding), bass)
        settled = self._settled
        self._chances = _scaled([c * f for c, f in zip(settled, factors, strict=True)])

    def guess(self) -> KeyGuess:
        """The keys ranked, from all that was heard."""
        return _guess(self._chances, CALM[1])


def _mask(pitches: set[int]) -> int:
    mask = 0
    for pitch in pitches:
        mask |= 1 << pitch % 12
    return mask


@lru_cache(maxsize=4096)
def _chord_factors(struck: int, sounding: int, bass: int | None) -> tuple[float, ...]:
    """Factors for pitch-class masks and the bass's pitch class, if the bass was struck."""
    rows = [_turned(CHORDS_STRUCK, pc) for pc in range(12) if struck >> pc & 1]
    rows += [_turned(CHORDS_SOUNDING, pc) for pc in range(12) if sounding >> pc & 1]
    if bass is not None:
        rows.append(_turned(CHORDS_BASS, bass))
    return tuple(math.prod(column) for column in zip(*rows, strict=True))
