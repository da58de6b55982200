"""Pitches of an answer: a beam search for the cheapest line over the slots of a rhythm."""

from __future__ import annotations

from functools import lru_cache
from random import Random
from typing import Final, NamedTuple

from live.answer.harmony import Ground
from live.answer.line_moves import LEAP, OCTAVE, Approach, Moves, Rows, moves_of, place_of

# Costs are our own taste, in natural logarithms of odds.
_ROOT, _FIFTH, _THIRD, _OTHER_TONE, _PASSING = 0.0, 0.4, 0.6, 0.8, 0.8
_NO_ROOT_ON_ONE: Final = 1.6
_TENSION_ON_ONE: Final = 0.8
_PASSING_HEAVY: Final = 0.9
_DISTANCE: Final = 0.06
_MATE: Final = 3.5
_NOISE: Final = 1.4
_AGAIN: Final = 0.75
_MOST_AGAIN: Final = 2
_BEAM: Final = 8
_MOST: Final = 1e9
"""More than any line costs: a note that no kept line reaches costs `inf`."""

_NO_LEAP: Final = 1
_PASSING_ROWS: Final = 3
_LEAPT: Final = tuple(
    _NO_LEAP + (move > LEAP) - (move < -LEAP) for move in (*range(OCTAVE + 1), *range(-OCTAVE, 0))
)
"""Which of `Rows` a move leads to; moves down count from the end, as a negative index does."""


class Slot(NamedTuple):
    """One note to be pitched.

    Args:
        ground: the harmony there.
        strong: only a chord tone will do.
        heavy: on the beat or a quarter note long at least: a passing note is dear.
        one: first beat of a bar or first note over a new chord.
        centre: MIDI note around which the line lies here.
        target: pitch the call suggests, None for none.
        pull: cost of missing the target, 0 or more.
        mate: index of the slot one pattern earlier, -1 for none; its interval above its
            chord's bottom note is worth repeating.
        tether: cost of each semitone off the centre, besides the usual one.
    """

    ground: Ground
    strong: bool
    heavy: bool
    one: bool
    centre: float
    target: int | None = None
    pull: float = 0.0
    mate: int = -1
    tether: float = 0.0


class Ending(NamedTuple):
    """How the line closes: the last pitch classes allowed (0..11) and how they are reached."""

    pitch_classes: frozenset[int]
    approach: Approach


Partial = tuple[float, tuple[int, ...], int, int]
"""A line so far: its cost, its pitches, which of `Rows` has the moves from its last note, and how
often that note has come again at once (_MOST_AGAIN and more). The lower cost is the better one; of
equal ones the lower pitches, so that ties always fall the same way."""


class Standing(NamedTuple):
    """The notes that may stand in a slot, ascending.

    Args:
        pitches: MIDI notes.
        roles: what their part in the chord costs.
        passing: whether each is no chord tone.
        places: from `place_of`.
        by_pitch: which of them a pitch is.
    """

    pitches: tuple[int, ...]
    roles: tuple[float, ...]
    passing: tuple[bool, ...]
    places: tuple[int, ...]
    by_pitch: dict[int, int]

    @staticmethod
    def of(rows: list[tuple[int, float, bool]]) -> Standing:
        """From (pitch, cost of its role, whether it is passing)."""
        pitches, roles, passing = zip(*rows, strict=True)
        places = tuple(place_of(pitch, passing=is_passing) for pitch, _, is_passing in rows)
        return Standing(pitches, roles, passing, places, {p: at for at, p in enumerate(pitches)})


def find_line(
    slots: tuple[Slot, ...],
    low: int,
    high: int,
    ending: Ending,
    rng: Random,
    leaps: float = 0.0,
) -> tuple[int, ...]:
    """One pitch a slot, each in `low`..`high` and fitting its ground.

    Args:
        slots: at least one.
        low: lowest MIDI note, inclusive.
        high: highest, inclusive; an octave above `low` or more, WIDEST at most.
        ending: the last note's pitch classes; left aside where none fits the last slot.
        rng: chance, so that equal briefs with other seeds find other lines.
        leaps: -1 steps only if possible, 1 leaps, 0 as usual.
    Thread: any; pure.
    """
    standing = [_standing(s.ground, s.strong, s.heavy, s.one, low, high) for s in slots]
    costs = [_costs(slot, notes, rng) for slot, notes in zip(slots, standing, strict=True)]
    standing[-1], costs[-1] = _ending(standing[-1], costs[-1], ending)
    moves, notes = moves_of(leaps), standing[0]
    beam: list[Partial] = [
        (cost, (pitch,), _NO_LEAP + _PASSING_ROWS * passing, 0)
        for pitch, cost, passing in zip(notes.pitches, costs[0], notes.passing, strict=True)
    ]
    for i in range(1, len(slots)):
        rows = _rows(moves, slots, i, ending.approach)
        beam = _extend(sorted(beam)[:_BEAM], standing[i], costs[i], rows, slots, i)
    return min(beam)[1]


def _rows(moves: Moves, slots: tuple[Slot, ...], i: int, approach: Approach) -> Rows:
    """The costs of moves into slot `i`."""
    if i == len(slots) - 1:
        return moves.last[approach]
    if i == len(slots) - 2:
        return moves.before_last[approach]
    return moves.into_one if slots[i].one else moves.plain


def _extend(
    beam: list[Partial],
    notes: Standing,
    costs: list[float],
    rows: Rows,
    slots: tuple[Slot, ...],
    i: int,
) -> list[Partial]:
    """The kept lines' best continuations to the notes of the next slot, as many as are kept."""
    mate, places, which = slots[i].mate, notes.places, notes.by_pitch.get
    shift = slots[i].ground.bottom_pc - slots[mate].ground.bottom_pc
    shift = (shift + 5) % OCTAVE - 5
    continued: list[list[float]] = []
    for cost, path, after, stayed in beam:
        here, row = path[-1], rows[after]
        totals = [cost + own + row[place - here] for own, place in zip(costs, places)]  # noqa: B905 -- as long
        wish = which(path[mate] + shift) if mate >= 0 else None
        if wish is not None:
            totals[wish] -= _MATE
        same = which(here) if stayed else None
        if same is not None:
            totals[same] += _AGAIN * stayed
        continued.append(totals)
    by_note = list(zip(*continued))  # noqa: B905 -- all as long
    best = [min(totals) for totals in by_note]
    kept = 1 if i == len(slots) - 1 else _BEAM
    most = min(sorted(best)[:kept][-1], _MOST)
    found: list[Partial] = []
    for at, total in enumerate(best):
        if total <= most:
            _, path, _, stayed = beam[by_note[at].index(total)]
            pitch = notes.pitches[at]
            move = pitch - path[-1]
            after = _LEAPT[move] + _PASSING_ROWS * notes.passing[at]
            found.append(
                (total, (*path, pitch), after, 0 if move else min(stayed + 1, _MOST_AGAIN))
            )
    return found


def _costs(slot: Slot, notes: Standing, rng: Random) -> list[float]:
    """What each note costs in a slot, wherever the line comes from."""
    centre, distance, chance = slot.centre, _DISTANCE + slot.tether, rng.random
    costs = [
        role + distance * abs(pitch - centre) + _NOISE * chance()
        for pitch, role in zip(notes.pitches, notes.roles, strict=True)
    ]
    target, pull = slot.target, slot.pull
    if target is None:
        return costs
    return [
        cost + pull * _MISS[abs(pitch - target)]
        for cost, pitch in zip(costs, notes.pitches, strict=True)
    ]


def _ending(notes: Standing, costs: list[float], ending: Ending) -> tuple[Standing, list[float]]:
    """Only the notes that the line may end on, or all where there are none."""
    kept = [at for at, p in enumerate(notes.pitches) if p % OCTAVE in ending.pitch_classes]
    if not kept:
        return notes, costs
    rows = [(notes.pitches[at], notes.roles[at], notes.passing[at]) for at in kept]
    return Standing.of(rows), [costs[at] for at in kept]


@lru_cache(maxsize=512)
def _standing(
    ground: Ground,
    strong: bool,  # noqa: FBT001
    heavy: bool,  # noqa: FBT001
    one: bool,  # noqa: FBT001
    low: int,
    high: int,
) -> Standing:
    """The notes that may stand over a ground, with the cost of their role in the chord."""
    found = []
    for pitch in range(low, high + 1):
        pitch_class = pitch % OCTAVE
        if pitch_class in ground.tones:
            found.append((pitch, _tone_cost(ground, pitch_class, one), False))
        elif pitch_class in ground.fit and not strong:
            found.append((pitch, _PASSING + _PASSING_HEAVY * heavy, True))
    return Standing.of(found)


def _tone_cost(ground: Ground, pitch_class: int, one: bool) -> float:  # noqa: FBT001
    if pitch_class == ground.bottom_pc:
        return _ROOT
    above = (pitch_class - ground.chord.root_pc) % OCTAVE
    cost = _FIFTH if above in (6, 7, 8) else _THIRD if above in (3, 4) else _OTHER_TONE
    if one:
        cost += _NO_ROOT_ON_ONE + _TENSION_ON_ONE * (cost == _OTHER_TONE)
    return cost


def _miss(distance: int) -> float:
    """0 on target, less than half an octave away for the same note in another octave."""
    if distance % OCTAVE == 0:
        return 0.4 * (distance > 0)
    return 0.7 + 0.1 * min(distance, 6)


_MISS: Final = tuple(_miss(distance) for distance in range(256))
"""By semitones off the target."""
