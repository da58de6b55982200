"""The filter behind key following: chances over keys, moved on before each event, then weighed.

Keys are numbered by tonic, 0 to 11 major and 12 to 23 minor, as long as they are only weighed.

Before each event the key may move on. It mostly stays; a little goes to every key; and some goes
to where music that is at home in a key goes, home included. Home is the mean of the chances so
far, and fades over some fifty events. So a key that has been left is the likeliest to come next.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from operator import itemgetter, mul
from typing import Final, NamedTuple

from live.theory.errors import FieldError
from live.theory.keyfind import numbered_keys
from live.theory.keys import Key

SURE: Final = 0.6
"""Confidence from which a key is named: clearly more likely right than wrong (our choice)."""
HOME_GAIN: Final = 0.02
"""How much the newest event counts for where home is, once fifty have been heard (our choice)."""
_HEARD_LONG: Final = round(1 / HOME_GAIN)

Chances = list[float]
"""Of the 24 keys by number; where `weighed`, in proportion only."""
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


def guessed(chances: Chances) -> KeyGuess:
    """The keys ranked; equal ones keep the order of `keyfind.find_piece_key`."""
    keys, in_order = _in_order()
    rows = zip(keys, in_order(chances), strict=True)
    return KeyGuess(tuple(sorted(rows, key=_SECOND, reverse=True)))


_SECOND = itemgetter(1)


@lru_cache(maxsize=1)
def _in_order() -> tuple[tuple[Key, ...], Callable[[Chances], tuple[float, ...]]]:
    """The keys as equal ones are ranked, and what puts their chances into that order."""
    numbers, keys = zip(*numbered_keys(), strict=True)
    return keys, itemgetter(*numbers)


def honest(chances: Chances, calm: float, share: float = 1.0) -> Chances:
    """Chances, times what makes them add up to 1, raised to what makes them as often right."""
    return scaled([(chance * share) ** calm for chance in chances])


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


# Written out, because a loop takes twice as long: each key by what is kept, itself, the keys a
# fifth below and above, its relative and its parallel.
def sent_on(chances: Chances, ways: Sequence[float], onto: Chances, keep: float) -> Chances:
    """Where music goes that is at home by these chances, added to what is kept.

    Args:
        chances: of the 24 keys, adding up to 1.
        ways: as in `Ways`.
        onto: what it is added to, for each key.
        keep: how much of that is kept.
    """
    stay, up, down, relative, parallel, other = ways
    rest = other / 24
    c, db, d, eb, e, f, gb, g, ab, a, bb, b, *minors = chances
    cm, dbm, dm, ebm, em, fm, gbm, gm, abm, am, bbm, bm = minors
    return [
        rest + keep * onto[0] + stay * c + up * f + down * g + relative * am + parallel * cm,
        rest + keep * onto[1] + stay * db + up * gb + down * ab + relative * bbm + parallel * dbm,
        rest + keep * onto[2] + stay * d + up * g + down * a + relative * bm + parallel * dm,
        rest + keep * onto[3] + stay * eb + up * ab + down * bb + relative * cm + parallel * ebm,
        rest + keep * onto[4] + stay * e + up * a + down * b + relative * dbm + parallel * em,
        rest + keep * onto[5] + stay * f + up * bb + down * c + relative * dm + parallel * fm,
        rest + keep * onto[6] + stay * gb + up * b + down * db + relative * ebm + parallel * gbm,
        rest + keep * onto[7] + stay * g + up * c + down * d + relative * em + parallel * gm,
        rest + keep * onto[8] + stay * ab + up * db + down * eb + relative * fm + parallel * abm,
        rest + keep * onto[9] + stay * a + up * d + down * e + relative * gbm + parallel * am,
        rest + keep * onto[10] + stay * bb + up * eb + down * f + relative * gm + parallel * bbm,
        rest + keep * onto[11] + stay * b + up * e + down * gb + relative * abm + parallel * bm,
        rest + keep * onto[12] + stay * cm + up * fm + down * gm + relative * eb + parallel * c,
        rest + keep * onto[13] + stay * dbm + up * gbm + down * abm + relative * e + parallel * db,
        rest + keep * onto[14] + stay * dm + up * gm + down * am + relative * f + parallel * d,
        rest + keep * onto[15] + stay * ebm + up * abm + down * bbm + relative * gb + parallel * eb,
        rest + keep * onto[16] + stay * em + up * am + down * bm + relative * g + parallel * e,
        rest + keep * onto[17] + stay * fm + up * bbm + down * cm + relative * ab + parallel * f,
        rest + keep * onto[18] + stay * gbm + up * bm + down * dbm + relative * a + parallel * gb,
        rest + keep * onto[19] + stay * gm + up * cm + down * dm + relative * bb + parallel * g,
        rest + keep * onto[20] + stay * abm + up * dbm + down * ebm + relative * b + parallel * ab,
        rest + keep * onto[21] + stay * am + up * dm + down * em + relative * c + parallel * a,
        rest + keep * onto[22] + stay * bbm + up * ebm + down * fm + relative * db + parallel * bb,
        rest + keep * onto[23] + stay * bm + up * em + down * gbm + relative * d + parallel * b,
    ]


def home_of(chances: Chances, ways: Ways) -> Chances:
    """How likely each key is home, by the chances of the key that is heard: `sent_on` backwards."""
    stay, up, down, relative, parallel, other = ways
    return sent_on(chances, (stay, down, up, relative, parallel, other), chances, 0.0)


def stayed(weighed: Chances, move: Move, factors: Iterable[float]) -> Chances:
    """A key that cannot go home, an event later: weighed as before, moved on, and weighed anew."""
    stay, rest, share = move.stay, move.other / 24, 1.0 / sum(weighed)
    return list(map(mul, [rest + stay * (w * share) for w in weighed], factors))


def checked(pitch: int) -> int:
    """The pitch, if it is a MIDI note. Raises: FieldError outside 0 to 127."""
    if not 0 <= pitch <= 127:
        raise FieldError("pitch", "a MIDI note, 0 to 127", pitch)
    return pitch


class Filter:
    """Chances of the 24 keys, event by event: `begin`, `move`, then `weigh`.

    An event that grows may be moved to and weighed anew. Thread: one, the caller's.
    """

    def __init__(self, ways: Ways) -> None:
        gains = [max(1 / heard, HOME_GAIN) for heard in range(1, _HEARD_LONG + 1)]
        self._fades = [(1 - gain, [gain * way for way in ways]) for gain in gains]
        self.reset()

    def reset(self) -> None:
        """Forget everything."""
        self.weighed: Chances = [1.0] * 24
        self.from_home: Chances = scaled(self.weighed)
        self._before = self._moved = self.weighed
        self._events = 0

    @property
    def chances(self) -> Chances:
        """Of the key now; they add up to 1."""
        return scaled(self.weighed)

    def saved(self) -> State:
        """What is known now, to go back to."""
        return self.weighed, self.from_home, self._events

    def go_back(self, state: State) -> None:
        """As if nothing had come since it was saved."""
        self.weighed, self.from_home, self._events = state

    def begin(self) -> None:
        """An event begins: what the last one came to stands, and becomes part of home.

        Home itself is not kept, only where music goes that is at home there: the mean of where
        each event's chances go is where their mean goes.
        """
        self._before = scaled(self.weighed)
        if self._events:
            keep, ways = self._fades[min(self._events, _HEARD_LONG) - 1]
            self.from_home = sent_on(self._before, ways, self.from_home, keep)
        self._events += 1

    def move(self, move: Move) -> None:
        """The key moves on before the event."""
        stay, rest, home = move.stay, move.other / 24, move.home
        rows = zip(self._before, self.from_home, strict=True)
        self._moved = [rest + stay * c + home * h for c, h in rows]

    def weigh(self, factors: Iterable[float]) -> None:
        """Weigh the event anew, by factors of each key's chance."""
        self.weighed = list(map(mul, self._moved, factors))


def looked_back(
    later: Chances, factors: Iterable[float], move: Move, from_home: Chances
) -> Chances:
    """How likely each key before an event makes the event and what came `later`."""
    made = [x * f for x, f in zip(later, factors, strict=True)]
    stay = move.stay
    rest = move.other / 24 * sum(made)
    rest += move.home * sum(h * m for h, m in zip(from_home, made, strict=True))
    return [rest + stay * m for m in made]
