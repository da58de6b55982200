"""Bits against what is usual, against the model they are made of."""

from __future__ import annotations

from math import log2

import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.answer.expectation import Expectation
from live.answer.ppm import Ppm

USUAL = (0.4, 0.3, 0.2, 0.1)
ORDER = 2
SEQUENCE = st.lists(st.integers(0, 3), max_size=12)
SEQUENCES = st.lists(SEQUENCE, max_size=5)


@given(SEQUENCES, SEQUENCE)
def test_bits_are_those_of_the_model_step_by_step(sequences, line):
    model = Ppm(len(USUAL), ORDER)
    for sequence in sequences:
        model.learn(sequence)
    wanted = 0.0
    for place, symbol in enumerate(line):
        left, seen = model.spread(model.reach(line[:place]))
        chance = left * USUAL[symbol] + seen.get(symbol, 0.0)
        wanted += -log2(chance) + log2(USUAL[symbol])
    assert Expectation(sequences, USUAL, ORDER).bits(line) == pytest.approx(wanted, abs=1e-9)


@given(SEQUENCES, SEQUENCE)
def test_the_chances_of_all_symbols_add_up_to_1(sequences, line):
    model = Expectation(sequences, USUAL, ORDER)
    state = model.after(line)
    chances = [usual * 2 ** -model.edge(state, s)[0] for s, usual in enumerate(USUAL)]
    assert sum(chances) == pytest.approx(1)


@given(SEQUENCE)
def test_nothing_learned_is_as_usual(line):
    assert Expectation([], USUAL, ORDER).bits(line) == 0


@given(SEQUENCES, SEQUENCE, SEQUENCE)
def test_what_was_asked_before_changes_nothing(sequences, before, line):
    asked = Expectation(sequences, USUAL, ORDER)
    asked.bits(before)
    assert asked.bits(line) == Expectation(sequences, USUAL, ORDER).bits(line)


def test_what_was_learned_is_familiar_and_the_rest_is_not():
    model = Expectation([[3, 2, 3, 2, 3]] * 4, USUAL, ORDER)
    assert model.bits([3, 2, 3, 2]) < -2
    assert model.bits([0, 0, 1, 0]) > 2
