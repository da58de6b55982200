"""What the daemon makes of the playing for people: a key to propose, the chord, the low end.

All of it is read off what the engine's ear puts down and off its view, never on the path of a note.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from live.answer.groove_learning import learn_groove
from live.answer.grooves import Stroke, written
from live.clock.metre import Metre
from live.clock.units import NS_PER_S
from live.daemon.engine_view import EngineView
from live.daemon.snapshot import Hearing
from live.notes.ear import ALL, FORGET, OFF, Heard
from live.theory.chord_names import MAX_DIFFERENT, name_chord
from live.theory.errors import FieldError
from live.theory.keyfollow import SURE
from live.theory.keys import Key, parse_key
from live.theory.lowend import low_end
from live.theory.numerals import numeral_of
from live.theory.playfollow import PlayingFollower

SHOWN_KEYS: Final = 3
AT_HOME_BELOW: Final = 0.1
AT_HOME_AGAIN: Final = 0.2
"""A key is proposed once the chance that the one set still fits has fallen below the first, and
taken back when it rises above the second, so that it does not come and go (own choice)."""
LEAST_NOTES: Final = 8
"""Notes heard before a key is proposed (own choice: a bar of eighths)."""
LOW_NOTES: Final = 5
"""Notes of a voicing that are judged live, the lowest ones: where it is muddy, it is so there."""
UNCLEAR_FOR_NS: Final = 2_000_000_000
"""How long an unclear low end stays on show after it has cleared, so that it can be read."""


@dataclass(frozen=True, slots=True)
class _LowEnd:
    verdict: str = ""
    reason: str = ""
    advice: str = ""


class Listening:
    """Weighs what was heard, turns views into hearings, remembers what it has proposed.

    Args:
        follower: says which key it is.
    Owner: the supervisor's thread.
    """

    def __init__(self, follower: PlayingFollower | None = None) -> None:
        self._follower = follower or PlayingFollower()
        self._presses = 0
        self._keys: tuple[tuple[str, float], ...] = ()
        self._proposed = ""
        self._unclear = _LowEnd()
        self._unclear_ns = -UNCLEAR_FOR_NS

    def take(self, heard: Iterable[Heard]) -> None:
        """Weigh what the engine's ear put down."""
        follower = self._follower
        for note, at_ns in heard:
            if at_ns == FORGET:
                follower.reset()
                self._presses = 0
            elif at_ns == OFF:
                for ended in range(128) if note == ALL else (note,):
                    follower.release(ended)
            else:
                follower.update(note, at_ns / NS_PER_S)
                self._presses += 1
        ranked = follower.guess().ranked if self._presses else ()
        self._keys = tuple((key.name, chance) for key, chance in ranked)

    def hear(self, view: EngineView, key: Key) -> Hearing:
        """What was heard, and what a view says of it, in a key."""
        chord, numeral = _chord_names(view.chord_notes, key)
        low = self._low_end(view, key)
        return Hearing(
            keys=tuple((name, round(chance, 3)) for name, chance in self._keys[:SHOWN_KEYS]),
            proposed_key=self._propose(key),
            chord=chord,
            numeral=numeral,
            low_end=low.verdict,
            low_end_reason=low.reason,
            low_end_advice=low.advice,
        )

    def _propose(self, key: Key) -> str:
        if self._presses < LEAST_NOTES:
            self._proposed = ""
            return ""
        name, chance = self._keys[0]
        at_home = sum(chance for name, chance in self._keys if not is_other(name, key))
        most = AT_HOME_AGAIN if self._proposed else AT_HOME_BELOW
        if at_home <= most and chance >= SURE:
            self._proposed = name
        elif at_home > most or name != self._proposed:
            self._proposed = ""
        return self._proposed

    def _low_end(self, view: EngineView, key: Key) -> _LowEnd:
        notes = tuple(sorted({*view.chord_notes, *view.answer_sounding}))[:LOW_NOTES]
        now = _judged(notes, key)
        if now.verdict in ("thick", "muddy"):
            self._unclear, self._unclear_ns = now, view.anchor_ns
        elif view.anchor_ns - self._unclear_ns < UNCLEAR_FOR_NS:
            return self._unclear
        return now


def sure_key(hearing: Hearing) -> str:
    """The likeliest key that was heard; FieldError unless it is likely enough to be named."""
    if not hearing.keys or hearing.keys[0][1] < SURE:
        raise FieldError("key heard", "once a key has been heard for certain; play on", "none yet")
    return hearing.keys[0][0]


def heard_groove(view: EngineView, metre: Metre) -> str:
    """What the drums that came in play most, written out; FieldError while there are none."""
    strokes = [Stroke(*stroke) for stroke in view.drums]
    try:
        return written(learn_groove(strokes, metre, view.tempo_bpm))
    except FieldError as error:
        allowed = f"{error.allowed}, while the transport plays"
        raise FieldError("groove heard", allowed, error.got) from None


@lru_cache(maxsize=256)
def is_other(name: str, key: Key) -> bool:
    """True if `name` and `key` each have notes that the other lacks, and no tonic in common.

    D minor is nothing new to D dorian, and F major asks nothing of who plays in D minor.
    """
    heard = parse_key(name)
    same_home = heard.tonic_pc == key.tonic_pc and heard.scale.is_minor == key.scale.is_minor
    theirs, ours = set(heard.pitch_classes), set(key.pitch_classes)
    return not same_home and not theirs <= ours and not theirs >= ours


@lru_cache(maxsize=512)
def _chord_names(notes: tuple[int, ...], key: Key) -> tuple[str, str]:
    """(chord, its numeral); ("", "") when that many different notes are no chord."""
    if not 2 <= len({note % 12 for note in notes}) <= MAX_DIFFERENT:
        return "", ""
    chord = name_chord(notes, key)
    return chord.name, numeral_of(chord, key).text


@lru_cache(maxsize=512)
def _judged(notes: tuple[int, ...], key: Key) -> _LowEnd:
    if len(notes) < 2:
        return _LowEnd()
    found = low_end(notes)
    return _LowEnd(found.verdict, found.reason(key), found.advice(key))
