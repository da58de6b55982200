"""Low-end clarity: is a voicing clear, thick or muddy, why, and the smallest move that clears it.

The low interval limits give the verdict. Roughness tells which of several clashes is the worst and
which of several moves of the same size is the best; critical bandwidth stands in the reason.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations, product
from typing import Literal

from live.theory.errors import FieldError
from live.theory.keys import Key
from live.theory.low_limits import TEXTS_DIFFER_BY, interval_name, low_limit
from live.theory.roughness import bands_apart, chord_roughness, roughness

Verdict = Literal["clear", "thick", "muddy"]

MAX_NOTES = 10
"""Most notes of one voicing that are looked at: ten fingers."""

_OCTAVE = 12
_MAX_OCTAVES = 2
_MAX_MOVED = 3


@dataclass(frozen=True, slots=True)
class Clash:
    """Two notes too low for their interval.

    Args:
        low, high: MIDI notes.
        limit: lowest MIDI note on which the interval is clear.
        bands: critical bandwidths between them.
        roughness: what they add to the sound.
        verdict: `thick` or `muddy`.
    Thread: any; immutable.
    """

    low: int
    high: int
    limit: int
    bands: float
    roughness: float
    verdict: Verdict


@dataclass(frozen=True, slots=True)
class LowEnd:
    """The verdict on a voicing.

    Args:
        notes: the MIDI notes, from the lowest, each once.
        verdict: that of the worst clash; `clear` without one.
        clashes: every clash, the worst first.
        moves: (note, octaves up or down) for each note of the smallest move that clears it; empty
            when it is clear, or when no move of up to three notes by up to two octaves does.
    Thread: any; immutable.
    """

    notes: tuple[int, ...]
    verdict: Verdict
    clashes: tuple[Clash, ...]
    moves: tuple[tuple[int, int], ...]

    @property
    def moved(self) -> tuple[int, ...]:
        """The notes after the move, from the lowest."""
        return _after(self.notes, self.moves)

    def reason(self, key: Key) -> str:
        """The worst clash in words, notes named in the key; "" when it is clear."""
        if not self.clashes:
            return ""
        worst = self.clashes[0]
        low, high, limit = (key.note_name(n) for n in (worst.low, worst.high, worst.limit))
        name = interval_name(worst.high - worst.low)
        return (
            f"{low} and {high}: a {name} is clear from {limit} up;"
            f" here they are {worst.bands:.1f} critical bands apart"
        )

    def advice(self, key: Key) -> str:
        """The move in words, `move F2 up an octave`; "" when there is none.

        A note that would land on another one is left out instead.
        """
        words = []
        for note, octaves in self.moves:
            if note + _OCTAVE * octaves in self.notes:
                words.append(f"leave out {key.note_name(note)}")
                continue
            way = "up" if octaves > 0 else "down"
            far = "an octave" if abs(octaves) == 1 else f"{abs(octaves)} octaves"
            words.append(f"move {key.note_name(note)} {way} {far}")
        return " and ".join(words)


def low_end(notes: Iterable[int]) -> LowEnd:
    """Judge the notes that sound together, bass included.

    Args:
        notes: MIDI notes 0 to 127 in any order; repeats count once; at most MAX_NOTES. The lowest
            is the bass.
    Returns: `clear` if every interval lies at or above its limit; `thick` if one lies lower by no
        more than the books differ, or is wider than an octave; `muddy` if one lies lower still.
    Raises: FieldError for notes outside the range, or too many.
    Thread: any; pure. Cost: remembered for each set of notes.
    Source: limits in `low_limits`; that up to two semitones below is thick, and that wide intervals
        are never worse than thick, are our choice.
    """
    found = tuple(sorted(set(notes)))
    if len(found) > MAX_NOTES or any(not 0 <= note <= 127 for note in found):
        raise FieldError("notes", f"up to {MAX_NOTES} MIDI notes from 0 to 127", found)
    return _judge(found)


@lru_cache(maxsize=512)
def _judge(notes: tuple[int, ...]) -> LowEnd:
    clashes = _clashes(notes)
    if not clashes:
        return LowEnd(notes, "clear", (), ())
    return LowEnd(notes, clashes[0].verdict, clashes, _smallest_move(notes))


def _clashes(notes: tuple[int, ...]) -> tuple[Clash, ...]:
    found = [
        Clash(
            low,
            high,
            limit=low_limit(high - low),
            bands=bands_apart(low, high),
            roughness=roughness(low, high),
            verdict=_how(low, high),
        )
        for low, high in _low_pairs(notes)
    ]
    return tuple(sorted(found, key=lambda clash: (clash.verdict == "thick", -clash.roughness)))


def _low_pairs(notes: tuple[int, ...]) -> Iterator[tuple[int, int]]:
    """Every two notes that lie below the limit of their interval."""
    return (pair for pair in combinations(notes, 2) if pair[0] < low_limit(pair[1] - pair[0]))


def _how(low: int, high: int) -> Verdict:
    """How bad a clash is."""
    deep = low_limit(high - low) - low > TEXTS_DIFFER_BY
    return "muddy" if deep and high - low < _OCTAVE else "thick"


def _smallest_move(notes: tuple[int, ...]) -> tuple[tuple[int, int], ...]:
    """Fewest notes, then fewest octaves, then the bass left alone, then least roughness."""
    clashing = sorted({note for pair in _low_pairs(notes) for note in pair})
    for moved in range(1, min(_MAX_MOVED, len(clashing)) + 1):
        found = _moves(notes, clashing, moved)
        clear = [moves for moves in found if not any(_low_pairs(_after(notes, moves)))]
        if clear:
            return min(clear, key=lambda moves: _size(notes, moves))
    return ()


def _moves(
    notes: tuple[int, ...], clashing: list[int], moved: int
) -> Iterator[tuple[tuple[int, int], ...]]:
    """Moves of so many of the clashing notes by octaves that keep the same note in the bass."""
    steps = [octaves for octaves in range(-_MAX_OCTAVES, _MAX_OCTAVES + 1) if octaves]
    for chosen in combinations(clashing, moved):
        for octaves in product(steps, repeat=moved):
            moves = tuple(zip(chosen, octaves, strict=True))
            after = _after(notes, moves)
            in_range = after[0] >= 0 and after[-1] <= 127
            same_bass = (after[0] - notes[0]) % _OCTAVE == 0
            if in_range and same_bass:
                yield moves


def _after(notes: tuple[int, ...], moves: tuple[tuple[int, int], ...]) -> tuple[int, ...]:
    by_note = dict(moves)
    return tuple(sorted({note + _OCTAVE * by_note.get(note, 0) for note in notes}))


def _size(
    notes: tuple[int, ...], moves: tuple[tuple[int, int], ...]
) -> tuple[int, bool, float, tuple[tuple[int, int], ...]]:
    octaves = sum(abs(octaves) for _, octaves in moves)
    touches_bass = any(note == notes[0] for note, _ in moves)
    return octaves, touches_bass, chord_roughness(_after(notes, moves)), moves
