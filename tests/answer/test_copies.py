"""Runs that stand elsewhere, against looking everywhere."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from live.answer.copies import Copies

SEQUENCE = st.lists(st.integers(0, 2), max_size=12)


def longest_ending_at(sequences, sequence, place):
    """By trying every run that ends there, longest first."""
    for length in range(place + 1, 0, -1):
        run = sequence[place + 1 - length : place + 1]
        for other in sequences:
            if any(other[at : at + length] == run for at in range(len(other) - length + 1)):
                return length
    return 0


@given(st.lists(SEQUENCE, max_size=6), SEQUENCE)
def test_runs_are_those_that_a_search_of_everything_finds(sequences, sequence):
    wanted = [longest_ending_at(sequences, sequence, at) for at in range(len(sequence))]
    assert Copies(sequences).runs(sequence) == wanted


@given(st.lists(SEQUENCE, min_size=1, max_size=6))
def test_each_sequence_is_a_copy_of_itself(sequences):
    copies = Copies(sequences)
    for sequence in sequences:
        assert copies.runs(sequence) == list(range(1, len(sequence) + 1))


def test_a_run_does_not_go_on_from_one_sequence_into_the_next():
    assert Copies([[1, 2], [3, 4]]).runs([1, 2, 3, 4]) == [1, 2, 1, 2]
