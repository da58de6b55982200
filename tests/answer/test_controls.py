"""Every control moves what it says it moves, all the way along its dial.

The means are over calls of both kinds: a bass under a call from above, and a call in the answer's
own range. What a control moves is counted here on the notes, without help from live.answer.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from itertools import pairwise
from statistics import fmean

import pytest

from live.answer.compose import compose
from live.notes.phrase import Brief, PhraseNote
from live.notes.taste import Taste
from tests.answer.calls import BAR, SCALE_PCS, walked_briefs

Notes = tuple[PhraseNote, ...]
DIAL = (0.0, 0.25, 0.5, 0.75, 1.0)
CALLS = 16
TONIC = 2


UNDER, IN_KIND = walked_briefs(CALLS, under=True), walked_briefs(CALLS, under=False)
BOTH = pytest.mark.parametrize("calls", [UNDER, IN_KIND], ids=["under", "in kind"])


def _answer(made: Brief, **taste: object) -> Notes:
    return _first(replace(made, taste=Taste(**taste)))


@cache
def _first(made: Brief) -> Notes:
    """The best answer; with every dial in the middle it is asked for again and again."""
    return compose(made)[0].notes


def same(made: Brief, notes: Notes) -> float:
    there = {((n.onset_ticks + 120) // 240 * 240, n.pitch % 12) for n in made.call.notes}
    return fmean((n.onset_ticks, n.pitch % 12) in there for n in notes)


def off_the_beat(_: Brief, notes: Notes) -> float:
    return fmean(n.onset_ticks % 960 != 0 for n in notes)


def mean_move(_: Brief, notes: Notes) -> float:
    return fmean([abs(b.pitch - a.pitch) for a, b in pairwise(notes)] or [0.0])


def late(_: Brief, notes: Notes) -> float:
    return fmean(
        [n.onset_ticks % 960 - 480 for n in notes if 480 <= n.onset_ticks % 960 < 720] or [0.0]
    )


def gate(_: Brief, notes: Notes) -> float:
    ends = [*(n.onset_ticks for n in notes[1:]), 2 * BAR]
    return fmean(n.length_ticks / (end - n.onset_ticks) for n, end in zip(notes, ends, strict=True))


MOVES: dict[str, Callable[[Brief, Notes], float]] = {
    "contrast": lambda made, notes: -same(made, notes),
    "density": lambda _, notes: float(len(notes)),
    "syncopation": off_the_beat,
    "leaps": mean_move,
    "closing": lambda _, notes: float(notes[-1].pitch % 12 == TONIC),
    "register": lambda _, notes: fmean(n.pitch for n in notes),
    "swing": late,
    "length": gate,
}


@BOTH
@pytest.mark.parametrize("control", MOVES)
def test_a_dial_moves_what_it_says_all_the_way(control: str, calls: list[Brief]) -> None:
    if control == "closing":  # one note in each answer tells, so more answers are needed
        calls = [replace(made, seed=made.seed + 100 * i) for made in calls for i in range(4)]
    means = [
        fmean(MOVES[control](made, _answer(made, **{control: value})) for made in calls)
        for value in DIAL
    ]
    assert all(a < b for a, b in pairwise(means)), means


def test_every_dial_is_measured() -> None:
    from live.notes.taste import DIALS

    assert set(MOVES) == set(DIALS)


@BOTH
def test_echo_gives_the_call_back_and_contrast_nothing_of_it(calls: list[Brief]) -> None:
    echo = [same(made, _answer(made, contrast=0.0)) for made in calls]
    contrast = [same(made, _answer(made, contrast=1.0)) for made in calls]
    assert fmean(echo) >= 0.8
    assert fmean(contrast) <= 0.05


@BOTH
def test_closed_answers_close_and_open_ones_stay_open(calls: list[Brief]) -> None:
    for made in calls:
        closed, opened = _answer(made, closing=1.0), _answer(made, closing=0.0)
        assert opened[-1].pitch % 12 != TONIC
        if made.progression is None:
            assert closed[-1].pitch % 12 == TONIC
        else:
            assert closed[-1].pitch % 12 in {2, 5, 9}
        gaps = sorted(b.onset_ticks - a.onset_ticks for a, b in pairwise(closed))
        assert not gaps or 2 * BAR - closed[-1].onset_ticks > gaps[len(gaps) // 2] - 1


@BOTH
def test_a_walk_up_steps_up_to_the_last_note(calls: list[Brief]) -> None:
    def walks(notes: Notes) -> bool:
        return all(1 <= b.pitch - a.pitch <= 3 for a, b in pairwise(notes[-3:]))

    on = fmean(walks(_answer(made, walk_up=True)) for made in calls)
    off = fmean(walks(_answer(made)) for made in calls)
    assert on >= 0.75
    assert on > off + 0.3


@BOTH
def test_octave_doubles_sound_above_low_notes_and_stay_in_range(calls: list[Brief]) -> None:
    doubled = 0
    for made in calls:
        plain, both = _answer(made), _answer(made, octave_double=True)
        low = {(n.onset_ticks, n.length_ticks, n.pitch): n.velocity for n in plain}
        for n in both:
            assert made.low <= n.pitch <= made.high
            below = (n.onset_ticks, n.length_ticks, n.pitch - 12)
            if below in low and (n.onset_ticks, n.length_ticks, n.pitch) not in low:
                assert n.velocity <= low[below]
                doubled += 1
        assert {(n.onset_ticks, n.pitch) for n in plain} <= {(n.onset_ticks, n.pitch) for n in both}
    assert doubled > 3 * CALLS


@BOTH
@pytest.mark.parametrize("value", [0.0, 1.0])
@pytest.mark.parametrize("control", MOVES)
def test_the_rules_hold_wherever_a_dial_stands(
    control: str, value: float, calls: list[Brief]
) -> None:
    for made in calls[:3]:
        notes = _answer(made, **{control: value})
        assert notes[0].onset_ticks == 0
        for a, b in pairwise(notes):
            assert a.onset_ticks + a.length_ticks <= b.onset_ticks
        assert notes[-1].onset_ticks + notes[-1].length_ticks <= 2 * BAR
        # Without a chord from outside the key every note is the key's.
        assert all(n.pitch % 12 in SCALE_PCS["D minor"] for n in notes)
        assert all(made.low <= n.pitch <= made.high for n in notes)


@BOTH
def test_the_same_taste_comes_back_with_the_same_seed(calls: list[Brief]) -> None:
    for made in calls[:6]:
        assert _answer(made, contrast=0.3, leaps=0.8) == _answer(made, contrast=0.3, leaps=0.8)
