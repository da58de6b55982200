import time

from live.clock.clock import MonotonicClock


def test_it_reads_the_monotonic_clock_and_not_the_wall_clock():
    clock = MonotonicClock()
    before_ns = time.monotonic_ns()
    readings = [clock.now_ns() for _ in range(100)]
    after_ns = time.monotonic_ns()
    assert readings == sorted(readings)
    assert before_ns <= readings[0]
    assert readings[-1] <= after_ns
