"""How much an answer belongs to a call: the critic of answers in kind, learned from tunes.

    heard = Kinship(call, tonic_pc, is_minor, metre)     # once a call
    heard.score(answer)                                  # log odds, higher: more its answer
    heard.parts(answer)                                  # (("keeps its rhythm", 0.8), ...)

`call` and `answer` are notes `(onset_ticks, length_ticks, pitch)`; each phrase counts its ticks
from its own first bar line. They are compared two bars at a time, bar by bar, and the score is
the mean. Octaves of the whole do not count; with `same_register=False` neither do those between
call and answer (a bass under a melody). The weights come from tunes; see `kinship_table`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

from live.answer.kinship_features import Heard, compare, of_call
from live.answer.kinship_phrase import UNITS, Phrase
from live.answer.kinship_trees import COMPARED_MASKS, mask_of_call, parts_of, sum_of
from live.clock.metre import Metre

Note = tuple[int, int, int]
"""Onset and length in ticks, MIDI pitch."""

_OCTAVE: Final = 12
_LOWEST_MEAN: Final = 57
"""Where a call's mean pitch is brought to, at least, and less than an octave above: there most of
the tunes that the weights come from lie, counted from a tonic at 60."""

Onsets = dict[int, int]
"""Pitch from the tonic by unit of the phrase, ascending."""


class Kinship:
    """A call, ready to be compared with any number of answers.

    Args:
        call: notes in any order; where several begin together the highest is heard; may be empty.
        tonic_pc: pitch class of the key's first degree, 0 to 11.
        is_minor: whether the key's third is minor.
        metre: of both phrases.
        bars: length of the call; None: up to its last note, and at least 2.
        same_register: whether the answer is meant to lie where the call lies; if not, octaves
            between the two lines do not count.
    Thread: any; nothing changes after construction.
    """

    def __init__(
        self,
        call: Sequence[Note],
        tonic_pc: int,
        is_minor: bool,  # noqa: FBT001
        metre: Metre,
        *,
        bars: int | None = None,
        same_register: bool = True,
    ) -> None:
        self._tonic_pc, self._bar_ticks = tonic_pc, metre.bar_ticks
        self._parts, self._same_register = _parts_of(metre), same_register
        line = _line(call, tonic_pc, self._bar_ticks)
        self._bars = max(2, _bars_of(line)) if bars is None else max(1, bars)
        line = {unit: pitch for unit, pitch in line.items() if unit < self._bars * UNITS}
        self._mean = sum(line.values()) / len(line) if line else 0.0
        self._up = _OCTAVE * -int((self._mean - _LOWEST_MEAN) // _OCTAVE)
        self._heard: list[tuple[Heard, list[int], int] | None] = []
        for start in range(self._bars):
            phrase = self._phrase(_two_bars(line, start, self._bars), self._up)
            if phrase is None:
                self._heard.append(None)
                continue
            called = of_call(phrase, is_minor=is_minor)
            heard = Heard(phrase, is_minor=is_minor)
            self._heard.append((heard, called, mask_of_call(called)))

    def score(self, answer: Sequence[Note]) -> float:
        """Log odds that this answer belongs to the call, 0.0 where one of the two is empty.

        A stranger's answer has 0.0 on the average. Cost: about 0.1 ms for two bars.
        """
        total, count = 0.0, 0
        for heard, _, mask, phrase in self._pairs(answer):
            for masks, value in zip(COMPARED_MASKS, compare(heard, phrase)):  # noqa: B905 -- as many
                mask &= masks[value]  # noqa: PLW2901
            total += sum_of(mask)
            count += 1
        return total / count if count else 0.0

    def parts(self, answer: Sequence[Note]) -> tuple[tuple[str, float], ...]:
        """What the score is made of: (words a musician uses, log odds), the weightiest first.

        Sums to the score. Costs a few milliseconds.
        """
        found: dict[str, float] = {}
        rows = self.counts(answer)
        for row in rows:
            for words, value in parts_of(row):
                found[words] = found.get(words, 0.0) + value / len(rows)
        return tuple(sorted(found.items(), key=lambda part: -abs(part[1])))

    def counts(self, answer: Sequence[Note]) -> list[list[int]]:
        """What the table is looked up by, a row for each two bars: COMPARED, then CALLED."""
        pairs = self._pairs(answer)
        return [[*compare(heard, phrase), *called] for heard, called, _, phrase in pairs]

    def phrases(self, answer: Sequence[Note]) -> list[tuple[Phrase, Phrase]]:
        """Two bars of the call and of the answer each, as they are compared."""
        return [(heard.phrase, phrase) for heard, _, _, phrase in self._pairs(answer)]

    def _pairs(self, answer: Sequence[Note]) -> Iterable[tuple[Heard, list[int], int, Phrase]]:
        """Two bars of the answer beside the call's bars of the same place, as far as both sound."""
        line = _line(answer, self._tonic_pc, self._bar_ticks)
        if not line:
            return
        up = self._up
        if not self._same_register:
            mean = sum(line.values()) / len(line)
            up += _OCTAVE * round((self._mean - mean) / _OCTAVE)
        bars = _bars_of(line)
        for start in range(0, bars, 2):
            begin = max(0, min(start, bars - 2))
            heard = self._heard[begin % self._bars]
            phrase = self._phrase(_two_bars(line, begin, bars), up)
            if heard is not None and phrase is not None:
                yield *heard, phrase

    def _phrase(self, line: Onsets, up: int) -> Phrase | None:
        if not line:
            return None
        pitches = [pitch + up for pitch in line.values()]
        if min(pitches) < 0 or max(pitches) > 127:
            pitches = [p % _OCTAVE + (0 if p < 0 else 108) if p & ~127 else p for p in pitches]
        return Phrase(list(line), pitches, self._parts)


def _parts_of(metre: Metre) -> int:
    """Parts of a bar in which pitches are compared: eighths of common metres."""
    if metre.beats % 3 == 0:
        return 12 if metre.beats % 12 == 0 else 6
    return 8


def _line(notes: Sequence[Note], tonic_pc: int, bar_ticks: int) -> Onsets:
    """The top line, in units of the bar."""
    half = bar_ticks // 2
    line = [((o * UNITS + half) // bar_ticks, pitch - tonic_pc) for o, _, pitch in notes]
    line.sort()
    if line and (line[0][0] < 0 or line[-1][0] % UNITS == 0):
        line = _inside(line, max(onset for onset, _, _ in notes) * UNITS / bar_ticks)
    return dict(line)


def _inside(line: list[tuple[int, int]], latest: float) -> list[tuple[int, int]]:
    """Notes before the first bar line on it; those a hair before the last bar line still before."""
    top = line[-1][0] - (latest < line[-1][0])
    return sorted((max(0, min(unit, top)), pitch) for unit, pitch in line)


def _bars_of(line: Onsets) -> int:
    return next(reversed(line)) // UNITS + 1 if line else 1


def _two_bars(line: Onsets, start: int, bars: int) -> Onsets:
    """Bars `start` and the next of a phrase; after its last bar comes its first again."""
    if start == 0 and bars == 2:
        return line
    first, then = start * UNITS, (start + 1) % bars * UNITS
    one = {unit - first: p for unit, p in line.items() if first <= unit < first + UNITS}
    two = {unit - then + UNITS: p for unit, p in line.items() if then <= unit < then + UNITS}
    return one | two
