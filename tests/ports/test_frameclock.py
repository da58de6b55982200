from __future__ import annotations

import random

import pytest

from live.ports.frameclock import FrameClock

RATE_HZ = 48_000
BLOCK = 128
BLOCK_NS = BLOCK * 1_000_000_000 / RATE_HZ


def test_a_moment_ahead_falls_on_its_frame():
    clock = FrameClock(RATE_HZ)
    clock.block(5_000_000_000, BLOCK)
    assert clock.offset(5_000_000_000) == 0
    assert clock.offset(5_001_000_000) == 48  # a millisecond at 48 kHz
    assert clock.offset(6_000_000_000) == RATE_HZ


def test_what_is_late_plays_at_once():
    clock = FrameClock(RATE_HZ)
    clock.block(5_000_000_000, BLOCK)
    assert clock.offset(4_999_000_000) == 0
    assert clock.offset(0) == 0


def test_a_moment_keeps_its_frame_whenever_it_is_asked():
    clock = FrameClock(RATE_HZ)
    at_ns = 10_000_000_000 + 700_000_000
    frames = set()
    for block in range(200):
        clock.block(10_000_000_000 + round(block * BLOCK_NS), BLOCK)
        frames.add(block * BLOCK + clock.offset(at_ns))
    assert frames == {33_600}


def test_wandering_callbacks_are_smoothed():
    chance = random.Random(3)
    clock = FrameClock(RATE_HZ)
    errors_ms = []
    for block in range(2_000):
        late_ns = chance.expovariate(1 / 500_000)  # half a millisecond late on average
        clock.block(round(block * BLOCK_NS + late_ns), BLOCK)
        at_ns = round((block + 50) * BLOCK_NS)
        errors_ms.append((clock.offset(at_ns) - 50 * BLOCK) / 48)
    settled = errors_ms[500:]
    assert max(settled) - min(settled) < 0.6  # the callbacks themselves wander by 3 ms and more
    assert abs(sum(settled) / len(settled) + 0.5) < 0.1


def test_a_sound_card_that_runs_fast_is_followed():
    # 200 parts in a million is more than cheap crystals are off (common practice, no source).
    clock = FrameClock(RATE_HZ)
    for block in range(20_000):
        now_ns = round(block * BLOCK_NS / 1.0002)
        clock.block(now_ns, BLOCK)
    assert clock.offset(now_ns + 10_000_000) == pytest.approx(480, abs=2)


def test_a_pause_of_the_machine_is_a_new_start():
    clock = FrameClock(RATE_HZ)
    clock.block(0, BLOCK)
    clock.block(3_000_000_000, BLOCK)
    assert clock.offset(3_001_000_000) == 48
