import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.clock.clock import Clock
from live.clock.manual import ManualClock
from live.theory.errors import FieldError


@given(st.integers(0, 10**15), st.lists(st.integers(0, 10**12)))
def test_it_moves_by_as_much_as_it_is_told(start_ns, steps):
    clock: Clock = ManualClock(start_ns)
    for step_ns in steps:
        clock.advance(step_ns)
    assert clock.now_ns() == start_ns + sum(steps)


def test_it_stands_still_and_starts_at_zero():
    clock = ManualClock()
    assert clock.now_ns() == clock.now_ns() == 0
    clock.advance_to(5)
    clock.advance_to(5)
    assert clock.now_ns() == 5


def test_it_never_goes_back():
    clock = ManualClock(100)
    for back in (lambda: clock.advance_to(99), lambda: clock.advance(-1)):
        with pytest.raises(FieldError, match="100 ns or later"):
            back()
    assert clock.now_ns() == 100
