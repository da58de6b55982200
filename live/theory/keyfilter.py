"""The filter behind key following: chances over keys, moved on before each event, then weighed.

Keys are numbered by tonic, 0 to 11 major and 12 to 23 minor, as long as they are only weighed.

Before each event the key may move on. It mostly stays; a little goes to every key; and some goes
to where music that is at home in a key goes, home included. Home is the mean of the chances so
far, and fades over some fifty events. So a key that has been left is the likeliest to come next.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from operator import mul
from typing import Final, NamedTuple

from live.theory.errors import FieldError
from live.theory.keyfind import numbered_keys
from live.theory.keys import Key

SURE: Final = 0.6
"""Confidence from which a key is named: clearly more likely right than wrong (our choice)."""
HOME_GAIN: Final = 0.02
"""How much the newest event counts for where home is, once fifty have been heard (our choice)."""

Chances = list[float]
State = tuple[Chances, Chances, int]
Rows = tuple[tuple[float, ...], tuple[float, ...]]
"""A row for major and one for minor, each from the tonic up by semitones."""


class Ways(NamedTuple):
    """Where music at home in a key is: chances that add up to 1.

    Fields: stay, up (a fifth), down (a fifth), relative, parallel, other (all 24 together).
    """

    stay: float
    up: float
    down: float
    relative: float
    parallel: float
    other: float


class Move(NamedTuple):
    """What the key does before an event: chances that add up to 1.

    Fields: stay, other (all 24 together), home (go where music at home there goes).
    """

    stay: float
    other: float
    home: float


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


def guessed(chances: Sequence[float], calm: float) -> KeyGuess:
    """The keys ranked, their chances raised to a power that makes them honest."""
    raised = scaled([chance**calm for chance in chances])
    named = ((key, raised[index]) for index, key in numbered_keys())
    return KeyGuess(tuple(sorted(named, key=lambda row: -row[1])))


def every_turn(rows: Rows) -> tuple[tuple[float, ...], ...]:
    """What each pitch class weighs in each of the 24 keys, as a factor of its chance."""
    return tuple(
        tuple(math.exp(row[(pitch_class - tonic) % 12]) for row in rows for tonic in range(12))
        for pitch_class in range(12)
    )


def scaled(chances: Chances) -> Chances:
    """Chances that add up to 1."""
    total = 1.0 / sum(chances)
    return [chance * total for chance in chances]


def sent_on(chances: Chances, ways: Sequence[float], onto: Sequence[float], keep: float) -> Chances:
    """Where music goes that is at home by these chances, added to what is kept.

    Args:
        chances: of the 24 keys, adding up to 1.
        ways: as in `Ways`.
        onto: what it is added to, for each key.
        keep: how much of that is kept.
    """
    stay, up, down, relative, parallel, other = ways
    major, minor = chances[:12], chances[12:]
    majors, minors = major + major, minor + minor
    rest = other / 24
    return [
        rest + keep * h + stay * c + up * u + down * d + relative * r + parallel * p
        for h, c, u, d, r, p in zip(
            onto,
            chances,
            majors[5:17] + minors[5:17],
            majors[7:19] + minors[7:19],
            minors[9:21] + majors[3:15],
            minor + major,
            strict=True,
        )
    ]


def home_of(chances: Chances, ways: Ways) -> Chances:
    """How likely each key is home, by the chances of the key that is heard: `sent_on` backwards."""
    back = ways._replace(up=ways.down, down=ways.up)
    return sent_on(chances, back, chances, 0.0)


def checked(pitch: int) -> int:
    """The pitch, if it is a MIDI note. Raises: FieldError outside 0 to 127."""
    if not 0 <= pitch <= 127:
        raise FieldError("pitch", "a MIDI note, 0 to 127", pitch)
    return pitch


class Filter:
    """Chances of the 24 keys, event by event: `begin`, `move`, then `weigh`.

    An event that grows may be moved to and weighed anew. Without ways from home it is not kept
    where home is, and no move may go there. Thread: one, the caller's.
    """

    def __init__(self, ways: Ways | None) -> None:
        self._ways = ways
        self.reset()

    def reset(self) -> None:
        """Forget everything."""
        self.chances: Chances = [1 / 24] * 24
        self.from_home: Chances = self.chances
        self._before = self._moved = self.chances
        self._events = 0

    def saved(self) -> State:
        """What is known now, to go back to."""
        return self.chances, self.from_home, self._events

    def go_back(self, state: State) -> None:
        """As if nothing had come since it was saved."""
        self.chances, self.from_home, self._events = state

    def begin(self) -> None:
        """An event begins: what the last one came to stands, and becomes part of home.

        Home itself is not kept, only where music goes that is at home there: the mean of where
        each event's chances go is where their mean goes.
        """
        self._before = self.chances
        if self._ways is not None:
            if self._events:
                gain = max(1 / self._events, HOME_GAIN)
                ways = [gain * way for way in self._ways]
                self.from_home = sent_on(self.chances, ways, self.from_home, 1 - gain)
            self._events += 1

    def move(self, move: Move) -> None:
        """The key moves on before the event."""
        stay, rest, home = move.stay, move.other / 24, move.home
        if self._ways is None:
            self._moved = [rest + stay * c for c in self._before]
        else:
            rows = zip(self._before, self.from_home, strict=True)
            self._moved = [rest + stay * c + home * h for c, h in rows]

    def weigh(self, factors: Sequence[float]) -> None:
        """Weigh the event anew, by factors of each key's chance."""
        self.chances = scaled(list(map(mul, self._moved, factors)))


def looked_back(
    later: Chances, factors: Sequence[float], move: Move, from_home: Chances
) -> Chances:
    """How likely each key before an event makes the event and what came `later`."""
    made = [x * f for x, f in zip(later, factors, strict=True)]
    stay = move.stay
    rest = move.other / 24 * sum(made)
    rest += move.home * sum(h * m for h, m in zip(from_home, made, strict=True))
    return [rest + stay * m for m in made]
