"""How much an answer belongs to a call: the learned part of the critic.

Interface (stable; the weights are provisional until `kinship_table` lands):

    heard = Kinship(call, tonic_pc, is_minor, metre)     # once a call
    heard.score(answer)                                  # log odds, higher: more its answer
    heard.parts(answer)                                  # (("keeps its rhythm", 0.8), ...)

`call` and `answer` are notes `(onset_ticks, length_ticks, pitch)`; each phrase counts its ticks
from its own first bar line. Pitches may lie anywhere: with `same_register=False` the answer is
first moved by whole octaves to where the call lies (a bass under a melody).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from live.clock.metre import Metre

Note = tuple[int, int, int]
"""Onset and length in ticks, MIDI pitch."""

_RHYTHM: Final = 2.0
_HEAD: Final = 3.0
_TONES: Final = 2.0
_REGISTER: Final = -0.2


class Kinship:
    """A call, ready to be compared with any number of answers.

    Args:
        call: notes in any order; where several begin together the highest is heard; may be empty.
        tonic_pc: pitch class of the key's first degree, 0 to 11.
        is_minor: whether the key's third is minor.
        metre: of both phrases.
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
        same_register: bool = True,
    ) -> None:
        self._tonic_pc, self._is_minor = tonic_pc, is_minor
        self._metre, self._same_register = metre, same_register
        self._call = _top_line(call)

    def score(self, answer: Sequence[Note]) -> float:
        """Log odds that this answer belongs to the call; 0.0 where one of the two is empty."""
        return sum(value for _, value in self.parts(answer))

    def parts(self, answer: Sequence[Note]) -> tuple[tuple[str, float], ...]:
        """What the score is made of: (words a musician uses, log odds); sums to the score."""
        call, line = self._call, _top_line(answer)
        if not call or not line:
            return ()
        apart = sum(line.values()) / len(line) - sum(call.values()) / len(call)
        if not self._same_register:
            apart -= 12 * round(apart / 12)
        together = call.keys() & line.keys()
        same = sum((call[o] - line[o]) % 12 == 0 for o in together)
        tones = {p % 12 for p in call.values()}, {p % 12 for p in line.values()}
        return (
            ("keeps its rhythm", _RHYTHM * len(together) / len(call.keys() | line.keys())),
            ("takes up its notes in place", _HEAD * same / len(line)),
            ("uses its degrees", _TONES * len(tones[0] & tones[1]) / len(tones[0] | tones[1])),
            ("answers in the same register", _REGISTER * abs(apart)),
        )


def _top_line(notes: Sequence[Note]) -> dict[int, int]:
    line: dict[int, int] = {}
    for onset, _, pitch in notes:
        line[onset] = max(pitch, line.get(onset, 0))
    return line
