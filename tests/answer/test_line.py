"""The search for pitches."""

from __future__ import annotations

from itertools import pairwise, product
from random import Random

import pytest

from live.answer.harmony import ground_of
from live.answer.line import Ending, Slot, find_line
from live.answer.line_moves import APPROACHES
from live.theory.chords import parse_chord
from live.theory.keys import parse_key

KEY = parse_key("D minor")
DM = ground_of(parse_chord("Dm"), KEY)
GM = ground_of(parse_chord("Gm"), KEY)
PLAIN = Slot(ground=DM, strong=False, heavy=False, one=False, centre=38.0)


def test_a_strong_slot_takes_only_chord_tones_and_a_weak_one_any_note_that_fits() -> None:
    strong, weak = set(), set()
    slots = (PLAIN, PLAIN._replace(strong=True), PLAIN, PLAIN)
    for seed in range(200):
        line = find_line(slots, 28, 55, Ending(frozenset({2}), "up"), Random(seed))
        strong.add(line[1] % 12)
        weak.add(line[2] % 12)
    assert strong <= {2, 5, 9}
    assert weak <= {2, 4, 5, 7, 9, 10, 0}
    assert weak - {2, 5, 9}


@pytest.mark.parametrize("approach", APPROACHES)
def test_the_ending_is_reached_as_asked(approach: str) -> None:
    good = 0
    for seed in range(50):
        line = find_line((PLAIN,) * 6, 28, 55, Ending(frozenset({2}), approach), Random(seed))
        move = line[-1] - line[-2]
        assert line[-1] % 12 == 2
        good += {"up": 1 <= move <= 3, "fall": -3 <= move <= -1, "leap": abs(move) in (5, 7)}[
            approach
        ]
    assert good >= 45


def test_targets_draw_the_line() -> None:
    wanted = (38, 41, 43, 41, 38)
    slots = tuple(PLAIN._replace(target=pitch, pull=10.0) for pitch in wanted)
    line = find_line(slots, 28, 55, Ending(frozenset({2}), "fall"), Random(3))
    assert line == wanted


def test_a_mate_repeats_its_figure_above_the_new_root() -> None:
    # Root and fifth over D minor, then over G minor: G and the D above it.
    def sequences(mates: tuple[int, int]) -> int:
        count = 0
        for seed in range(60):
            slots = (
                PLAIN._replace(target=38, pull=10.0),
                PLAIN._replace(target=45, pull=10.0),
                PLAIN._replace(ground=GM, mate=mates[0]),
                PLAIN._replace(ground=GM, mate=mates[1]),
                PLAIN._replace(ground=GM),
                PLAIN._replace(ground=GM),
            )
            line = find_line(slots, 28, 55, Ending(frozenset({7}), "fall"), Random(seed))
            count += line[:4] == (38, 45, 43, 50)
        return count

    assert sequences((0, 1)) > sequences((-1, -1)) + 20


@pytest.mark.parametrize(("low", "high"), [(28, 40), (28, 55), (0, 12), (115, 127), (40, 67)])
def test_any_range_of_an_octave_holds_a_line(low: int, high: int) -> None:
    for seed, (pitch_class, approach) in enumerate(product((2, 5, 9), APPROACHES)):
        slots = (PLAIN._replace(strong=True, centre=low + 6),) * 9
        line = find_line(slots, low, high, Ending(frozenset({pitch_class}), approach), Random(seed))
        assert all(low <= pitch <= high for pitch in line)
        assert all(abs(b - a) <= 12 for a, b in pairwise(line))
        assert line[-1] % 12 == pitch_class


def test_a_single_slot_is_its_own_ending() -> None:
    line = find_line(
        (PLAIN._replace(strong=True),), 28, 55, Ending(frozenset({9}), "leap"), Random(1)
    )
    assert len(line) == 1
    assert line[0] % 12 == 9


def test_chance_finds_other_lines() -> None:
    slots = (PLAIN,) * 8
    lines = {
        find_line(slots, 28, 55, Ending(frozenset({2}), "up"), Random(seed)) for seed in range(20)
    }
    assert len(lines) >= 5
    again = find_line(slots, 28, 55, Ending(frozenset({2}), "up"), Random(7))
    assert again == find_line(slots, 28, 55, Ending(frozenset({2}), "up"), Random(7))
