from itertools import permutations, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.clock.due import RANK_MARK, RANK_OFF, RANK_ON, DueQueue

RANKS = (RANK_OFF, RANK_MARK, RANK_ON)
items = st.lists(st.tuples(st.integers(0, 20), st.sampled_from(RANKS)))


def filled(entries):
    queue = DueQueue()
    for number, (tick, rank) in enumerate(entries):
        queue.add(tick, rank, number)
    return queue


def drained(queue):
    out = []
    while len(queue):
        assert queue.next_tick() is not None
        out.append(queue.pop())
    assert queue.next_tick() is None
    return out


@given(items)
def test_items_come_by_tick_then_rank_then_order_of_adding(entries):
    wanted = sorted(range(len(entries)), key=lambda number: (*entries[number], number))
    assert drained(filled(entries)) == [(entries[number][0], number) for number in wanted]


def test_at_equal_ticks_every_pair_of_ranks_is_in_order():
    for first, second in product(RANKS, RANKS):
        out = [number for _, number in drained(filled([(7, first), (7, second)]))]
        assert out == ([0, 1] if first <= second else [1, 0])


def test_notes_end_before_marks_and_marks_come_before_notes_begin():
    for order in permutations(RANKS):
        queue = DueQueue()
        for rank in order:
            queue.add(0, rank, rank)
        assert [rank for _, rank in drained(queue)] == [RANK_OFF, RANK_MARK, RANK_ON]


@given(items, st.integers(0, 20), st.sampled_from(RANKS))
def test_removing_takes_one_rank_from_a_tick_on_and_keeps_the_order(entries, tick, rank):
    queue, untouched = filled(entries), drained(filled(entries))
    queue.remove_from(tick, rank)
    kept = [e for e in untouched if e[0] < tick or entries[e[1]][1] != rank]
    assert drained(queue) == kept


def test_clearing_empties_it_and_it_can_be_used_again():
    queue = filled([(1, RANK_ON), (2, RANK_OFF)])
    queue.clear()
    assert len(queue) == 0
    queue.add(3, RANK_ON, "again")
    assert queue.pop() == (3, "again")


def test_an_empty_one_has_nothing_to_give():
    with pytest.raises(IndexError):
        DueQueue().pop()
