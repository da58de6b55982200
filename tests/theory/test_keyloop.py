from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.theory.keyloop import ALONE, MOST_AROUND, MOST_NOTES, UNDER_CHORDS, LoopSense

LEASTS = (ALONE, UNDER_CHORDS)


def told(line, least):
    """Whether the line loops, after each note."""
    sense, found = LoopSense(least), []
    for note in line:
        coming = sense.comes_round(note)
        found.append(sense.hear(note))
        assert found[-1] == coming
    return found


def by_definition(line, least):
    """The same, by comparing every length there is."""
    count = len(line)
    repeated = [n for n in range(count) if line[:n] == line[count - n :]]
    now = max(repeated)
    around = count - now
    return around <= MOST_AROUND and now >= max(least.notes, least.share * around)


@pytest.mark.parametrize("least", LEASTS)
@given(line=st.lists(st.integers(0, 3), min_size=1, max_size=40))
def test_it_is_the_longest_beginning_that_comes_again(least, line):
    # Knuth, Morris & Pratt 1977, against the plain definition of a border.
    found = told(line, least)
    assert found == [by_definition(line[: at + 1], least) for at in range(len(line))]


@pytest.mark.parametrize("least", LEASTS)
@given(loop=st.permutations(range(12)), length=st.integers(2, MOST_AROUND))
def test_a_loop_is_told_in_its_second_pass_and_for_ever(least, loop, length):
    around = loop[:length]
    found = told(around * (3 * MOST_NOTES // length), least)
    first = length + max(least.notes, math.ceil(least.share * length)) - 1
    assert not any(found[:first])
    assert all(found[first:])


@pytest.mark.parametrize("least", LEASTS)
def test_a_phrase_of_more_notes_is_no_loop(least):
    assert not any(told(list(range(MOST_AROUND + 1)) * 3, least))


@pytest.mark.parametrize("least", LEASTS)
def test_a_loop_left_is_no_loop(least):
    line = [2, 10, 7, 9] * 3 + [0, 5, 1, 3]
    assert told(line, least)[11]
    assert not any(told(line, least)[12:])


def test_reset_forgets():
    sense = LoopSense(UNDER_CHORDS)
    for note in (2, 7, 2):
        sense.hear(note)
    assert sense.comes_round(7)
    sense.reset()
    assert not sense.comes_round(7)
