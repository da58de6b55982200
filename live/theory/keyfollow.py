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
from collections.abc import Iterable
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
    honest,
    looked_back,
    scaled,
    stayed,
)
from live.theory.keyhear import Sounding, is_leap, is_struck_anew, phrase_begins
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

    Thread: one, the caller's. Cost of `update`: about 5 us, no I/O, no randomness.
    """

    def __init__(self) -> None:
        self._factors = line_factors()
        self._loop = LoopSense(ALONE)
        self.reset()

    def reset(self) -> None:
        """Forget everything."""
        self._weighed: Chances = [1.0] * 24
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
        factors: Iterable[float] = self._factors.onward[leap][before][now]
        if self._earlier != NO_PITCH:
            factors = map(mul, factors, self._factors.over[self._earlier][now])
        if before == NO_PITCH:
            self._first = now
        if now != before:
            self._earlier, self._before = before, now
            if self._loop.hear(now):
                factors = map(mul, factors, loop_factors(self._first))
        self._last = pitch
        self._weighed = stayed(self._weighed, _LINE_MOVE, factors)

    def guess(self) -> KeyGuess:
        """The keys ranked, from all that was heard."""
        return guessed(self.chances())

    def chances(self) -> Chances:
        """Of the 24 keys by number, from all that was heard; they add up to 1."""
        return honest(home_of(scaled(self._weighed), _LINE_HOME), CALM[0])


_NOT_YET: Final = -1
"""No bass has been heard in the onset."""
_NOTHING: Final[Factors] = (1.0,) * 24
_Chord = tuple[int, int, int]
"""Pitch classes struck and sounding, as masks, and that of the lowest."""


class _Onset(NamedTuple):
    """What is kept of an onset: what it came to and how, for looking back."""

    weighed: Chances
    factors: tuple[Factors, Factors]
    move: Move
    from_home: Chances


class ChordFollower:
    """Follows the key of chords and voices together, in any number, with note-offs.

    Thread: one, the caller's. Cost of `update`: about 7 us, 18 where each note is an onset
    of its own; no I/O, no randomness.
    """

    def __init__(self) -> None:
        self._filter = Filter(Ways(*CHORDS_HOME))
        self._loop = LoopSense(UNDER_CHORDS)
        self._heard = Sounding()
        self._past: deque[_Onset] = deque(maxlen=LOOK_BACK + 1)
        self.reset()

    def reset(self) -> None:
        """Forget everything, also what still sounds."""
        self._filter.reset()
        self._loop.reset()
        self._heard.reset()
        self._past.clear()
        self._begin_s = -math.inf
        self._gap_s = 0.0
        self._phrase = False
        self._moved: Move | None = None  # None: the onset tells nothing, as yet
        self._chord_factors = self._bass_factors = _NOTHING
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
        self._heard.strike(pitch)
        self._hear()

    def release(self, pitch: int) -> None:
        """Hear a note end; one that does not sound is passed over."""
        self._heard.release(pitch)

    def _begin(self, at_s: float) -> None:
        """A new onset: what the last one came to stands, and the key may move on."""
        self._phrase = False
        if self._chord is not None:
            self._phrase, self._gap_s = phrase_begins(at_s - self._begin_s, self._gap_s)
        self._begin_s = at_s
        if self._moved is not None:
            self._past.append(self._onset(self._moved))
        self._chord_before, self._saved = self._chord, self._filter.saved()
        if self._bass not in (NO_PITCH, self._before):
            self._loop.hear(self._bass)
            self._before = self._bass
        self._heard.begin()
        self._moved = None
        self._bass = _NOT_YET

    def _onset(self, move: Move) -> _Onset:
        """What the onset has come to."""
        factors = self._chord_factors, self._bass_factors
        return _Onset(self._filter.weighed, factors, move, self._filter.from_home)

    def _hear(self) -> None:
        """Weigh the onset with what has come of it.

        The same chord again within a phrase tells nothing: then it is as if nothing had begun.
        """
        heard = self._heard
        struck, sounding, low, top = heard.struck, heard.sounding, heard.low, heard.top
        low_pc = low % 12
        chord = struck, sounding, low_pc
        self._chord = chord
        bass = low_pc if heard.is_struck(low) else NO_PITCH
        if bass != self._bass:
            self._hear_bass(bass)
        if not self._phrase and chord == self._chord_before:
            self._filter.go_back(self._saved)
            self._moved = None
            return
        calm = _CHORD_MOVE if is_struck_anew(struck, sounding) else _PASSING_MOVE
        move = _PHRASE_MOVE if self._phrase else calm
        if move is not self._moved:
            if self._moved is None:
                self._filter.begin()
            self._filter.move(move)
            self._moved = move
        highest = top % 12 if heard.is_struck(top) else NO_PITCH
        factors = self._chord_factors = chord_factors(struck, sounding, low_pc, highest)
        if bass == NO_PITCH:
            self._filter.weigh(factors)
        else:
            self._filter.weigh(map(mul, factors, self._bass_factors))

    def _hear_bass(self, bass: int) -> None:
        """The onset's bass is another one, or not struck (`NO_PITCH`)."""
        before, self._bass = self._before, bass
        if before == NO_PITCH:
            self._first = bass
        looping = bass not in (NO_PITCH, before) and self._loop.comes_round(bass)
        self._bass_factors = bass_factors(before, bass, self._first if looping else NO_PITCH)

    def guess(self, back: int = 0) -> KeyGuess:
        """The keys ranked, from all that was heard.

        Args:
            back: 0 for the key now; 1 or 2 for the key so many onsets ago, in the light of what has
                come since. With fewer onsets, the key of the first.
        Raises: FieldError for another number.
        """
        return guessed(self.chances(back))

    def chances(self, back: int = 0) -> Chances:
        """Of the 24 keys by number; `back` as in `guess`. They add up to 1."""
        if not 0 <= back <= LOOK_BACK:
            raise FieldError("back", f"0 to {LOOK_BACK} onsets", back)
        past = list(self._past)
        if self._moved is not None:
            past.append(self._onset(self._moved))
        if not past:
            return scaled([1.0] * 24)
        chosen = past[max(0, len(past) - 1 - back)]
        if not back:
            return honest(chosen.weighed, CALM[1], 1.0 / sum(chosen.weighed))
        later = [1.0] * 24
        for onset in reversed(past[max(1, len(past) - back) :]):
            factors = map(mul, *onset.factors)
            later = looked_back(later, factors, onset.move, onset.from_home)
        return honest(list(map(mul, scaled(chosen.weighed), later)), CALM[1])
