"""Key following: which key is this in now, answered anew after every note.

Both followers are filters over the 24 keys (`keyfilter`), with learned weights (`key_table`, which
says from what). One reads a single line, such as a bass or a melody, by each note, the two before
it, and which way it leaps; the other reads chords, by what is struck, what sounds, the shape of the
chord, its top note, and how the bass moves. Once the bass has come round to what it began with
(`keyloop`), the note it began on counts: loops begin on their tonic.
"""

from __future__ import annotations

import math
from collections import deque
from operator import mul
from typing import Final, NamedTuple

from live.theory.errors import FieldError
from live.theory.key_table import CALM, CHORDS_HOME, CHORDS_MOVES, LINE_HOME, LINE_MOVES
from live.theory.keyfactors import (
    NO_PITCH,
    Factors,
    bass_factors,
    chord_factors,
    line_factors,
    loop_factors,
    times,
)
from live.theory.keyfilter import (
    SURE,
    Chances,
    Filter,
    KeyGuess,
    Move,
    Ways,
    checked,
    guessed,
    home_of,
    looked_back,
)
from live.theory.keyhear import is_leap, is_struck_anew, mask_of, phrase_begins
from live.theory.keyloop import ALONE, UNDER_CHORDS, LoopSense

__all__ = ["CHORD_SPREAD_S", "LOOK_BACK", "SURE", "ChordFollower", "KeyGuess", "LineFollower"]

CHORD_SPREAD_S: Final = 0.03
"""Notes struck within this time are one chord (our choice; a rolled chord spreads about 19 ms)."""
LOOK_BACK: Final = 2
"""Onsets that can be looked back on."""
_LINE_MOVE: Final = Move(*LINE_MOVES)
_LINE_HOME: Final = Ways(*LINE_HOME)
_PASSING_MOVE, _CHORD_MOVE, _PHRASE_MOVE = (Move(*row) for row in CHORDS_MOVES)


class LineFollower:
    """Follows the key of one line: a bass, a melody, one note at a time.

    Thread: one, the caller's. Cost of `update`: about 6 us, no I/O, no randomness.
    """

    def __init__(self) -> None:
        self._factors = line_factors()
        self._filter = Filter(None)
        self._loop = LoopSense(ALONE)
        self.reset()

    def reset(self) -> None:
        """Forget everything."""
        self._filter.reset()
        self._loop.reset()
        self._first = self._before = self._earlier = NO_PITCH
        self._last = 0
        self._again = False

    def update(self, pitch: int) -> None:
        """Hear the next note; one that is struck a third time on end tells nothing new.

        Args:
            pitch: MIDI note, 0 to 127.
        Raises: FieldError outside that range.
        """
        now, before = checked(pitch) % 12, self._before
        if now == before and self._again:
            return  # struck a third time: nothing new
        self._again = now == before
        leap = (1 if pitch > self._last else -1) if is_leap(self._last, pitch) else 0
        factors = self._factors.onward[leap][before][now]
        if self._earlier != NO_PITCH:
            factors = times(factors, self._factors.over[self._earlier][now])
        if before == NO_PITCH:
            self._first = now
        if now != before:
            self._earlier, self._before = before, now
            if self._loop.hear(now):
                factors = times(factors, loop_factors(self._first))
        self._last = pitch
        self._filter.begin()
        self._filter.move(_LINE_MOVE)
        self._filter.weigh(factors)

    def guess(self) -> KeyGuess:
        """The keys ranked, from all that was heard."""
        return guessed(home_of(self._filter.chances, _LINE_HOME), CALM[0])


_Chord = tuple[int, int, int]
"""Pitch classes struck and sounding, as masks, and that of the lowest."""


class _Onset(NamedTuple):
    """What is kept of an onset: what it came to and how, for looking back."""

    chances: Chances
    factors: Factors | list[float]
    move: Move
    from_home: Chances


class ChordFollower:
    """Follows the key of chords and voices together, in any number, with note-offs.

    Thread: one, the caller's. Cost of `update`: about 15 us, no I/O, no randomness.
    """

    def __init__(self) -> None:
        self._filter = Filter(Ways(*CHORDS_HOME))
        self._loop = LoopSense(UNDER_CHORDS)
        self._struck: set[int] = set()
        self._sounding: set[int] = set()
        self._past: deque[_Onset] = deque(maxlen=LOOK_BACK + 2)  # one comes in vain
        self.reset()

    def reset(self) -> None:
        """Forget everything, also what still sounds."""
        self._filter.reset()
        self._loop.reset()
        self._struck.clear()
        self._sounding.clear()
        self._past.clear()
        self._begin_s = -math.inf
        self._gap_s = 0.0
        self._phrase = self._noted = False
        self._moved: Move | None = None
        self._chord: _Chord | None = None
        self._chord_before: _Chord | None = None
        self._saved = self._filter.saved()
        self._first = self._before = self._bass = NO_PITCH

    def update(self, pitch: int, at_s: float) -> None:
        """Hear a note begin.

        Args:
            pitch: MIDI note, 0 to 127; one that already sounds is struck again.
            at_s: when, in seconds of any clock that does not run back; notes within
                `CHORD_SPREAD_S` of the first are one chord.
        Raises: FieldError for a pitch outside that range or a time that is not a number.
        """
        checked(pitch)
        if not math.isfinite(at_s):
            raise FieldError("at_s", "a finite number of seconds", at_s)
        if at_s - self._begin_s > CHORD_SPREAD_S:
            self._begin(at_s)
        self._struck.add(pitch)
        self._sounding.add(pitch)
        self._hear()

    def release(self, pitch: int) -> None:
        """Hear a note end; one that does not sound is passed over."""
        self._sounding.discard(pitch)

    def _begin(self, at_s: float) -> None:
        """A new onset: what the last one came to stands, and the key may move on."""
        self._phrase = False
        if self._chord is not None:
            self._phrase, self._gap_s = phrase_begins(at_s - self._begin_s, self._gap_s)
        self._begin_s = at_s
        self._chord_before, self._saved = self._chord, self._filter.saved()
        if self._bass not in (NO_PITCH, self._before):
            self._loop.hear(self._bass)
            self._before = self._bass
        self._struck.clear()
        self._moved, self._noted = None, False

    def _hear(self) -> None:
        """Weigh the onset with what has come of it.

        The same chord again within a phrase tells nothing: then it is as if nothing had begun.
        """
        low, top = min(self._sounding), max(self._sounding)
        struck, sounding, bass = mask_of(self._struck), mask_of(self._sounding), low % 12
        self._chord = struck, sounding, bass
        self._bass = bass if low in self._struck else NO_PITCH
        if self._noted:
            self._past.pop()
        self._noted = self._phrase or self._chord != self._chord_before
        if not self._noted:
            self._filter.go_back(self._saved)
            self._moved = None
            return
        calm = _CHORD_MOVE if is_struck_anew(struck, sounding) else _PASSING_MOVE
        move = _PHRASE_MOVE if self._phrase else calm
        if self._moved is None:
            self._filter.begin()
        if move is not self._moved:
            self._filter.move(move)
            self._moved = move
        highest = top % 12 if top in self._struck else NO_PITCH
        chord = chord_factors(struck, sounding, bass, highest)
        factors = list(map(mul, chord, self._bass_factors()))
        self._filter.weigh(factors)
        self._past.append(_Onset(self._filter.chances, factors, move, self._filter.from_home))

    def _bass_factors(self) -> Factors:
        before, bass = self._before, self._bass
        if before == NO_PITCH:
            self._first = bass
        looping = bass not in (NO_PITCH, before) and self._loop.comes_round(bass)
        return bass_factors(before, bass, self._first if looping else NO_PITCH)

    def guess(self, back: int = 0) -> KeyGuess:
        """The keys ranked, from all that was heard.

        Args:
            back: 0 for the key now; 1 or 2 for the key so many onsets ago, in the light of what has
                come since. With fewer onsets, the key of the first.
        Raises: FieldError for another number.
        """
        if not 0 <= back <= LOOK_BACK:
            raise FieldError("back", f"0 to {LOOK_BACK} onsets", back)
        later = [1.0] * 24
        past = list(self._past)
        if not past:
            return guessed(later, CALM[1])
        at = max(0, len(past) - 1 - back)
        for onset in reversed(past[at + 1 :]):
            later = looked_back(later, onset.factors, onset.move, onset.from_home)
        return guessed([c * x for c, x in zip(past[at].chances, later, strict=True)], CALM[1])
