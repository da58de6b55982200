"""The clock follower on synthetic clocks.

The bounds under jitter are those of textbook linear regression: if n stamps tremble by S each, the
slope trembles by S * sqrt(12 / n^3) and the value at the last one by S * sqrt(4 / n).
"""

import math
import random
import statistics

import pytest

from live.clock.follower import LOST_AFTER_NS, WINDOW_PULSES, ClockFollower

MS = 1_000_000
MINUTE = 60_000_000_000


def pulse_ns_of(tempo_bpm):
    return MINUTE / (tempo_bpm * 24)


def run(follower, tempo_bpm, count, from_ns=10**12, jitter_ms=0.0, seed=0):
    """Feed pulses; returns the true time of the last one."""
    rng = random.Random(seed)
    at_ns = from_ns
    for number in range(count):
        at_ns = from_ns + number * pulse_ns_of(tempo_bpm)
        follower.pulse(round(at_ns + rng.gauss(0, jitter_ms) * MS))
    return at_ns


@pytest.mark.parametrize("tempo_bpm", [20.0, 60.0, 119.5, 120.0, 168.0, 172.0, 174.123, 400.0])
def test_a_steady_clock_is_read_exactly(tempo_bpm):
    follower = ClockFollower()
    last_ns = run(follower, tempo_bpm, 49)
    assert follower.tempo_bpm == pytest.approx(tempo_bpm, rel=1e-7)
    assert abs(follower.phase_ns - last_ns) <= 2


def test_nothing_is_known_before_two_pulses():
    follower = ClockFollower()
    assert follower.tempo_bpm is None
    assert follower.deadline_ns() is None
    assert not follower.is_lost(10**15)
    follower.pulse(5 * MS)
    assert follower.tempo_bpm is None
    assert follower.phase_ns == 5 * MS
    follower.pulse(25 * MS)
    assert follower.tempo_bpm == 125.0


@pytest.mark.parametrize("jitter_ms", [0, 1, 2, 5])
def test_jitter_moves_tempo_and_phase_no_more_than_least_squares_allows(jitter_ms, capsys):
    tempos, phases = [], []
    for seed in range(200):
        follower = ClockFollower()
        last_ns = run(follower, 172.0, 72, jitter_ms=jitter_ms, seed=seed)
        tempos.append(100 * (follower.tempo_bpm / 172.0 - 1))
        phases.append((follower.phase_ns - last_ns) / MS)
    sd_tempo, sd_phase = statistics.pstdev(tempos), statistics.pstdev(phases)
    worst_tempo, worst_phase = max(map(abs, tempos)), max(map(abs, phases))
    with capsys.disabled():
        print(
            f"\n  clock at 172 BPM, jitter SD {jitter_ms} ms: tempo SD {sd_tempo:.3f} %, worst "
            f"{worst_tempo:.3f} %; phase SD {sd_phase:.2f} ms, worst {worst_phase:.2f} ms ",
            end="",
        )
    n = WINDOW_PULSES
    tempo_percent = 100 * jitter_ms * MS / pulse_ns_of(172.0) * math.sqrt(12 / n**3)
    phase_ms = jitter_ms * math.sqrt(4 / n)
    assert sd_tempo <= 1.25 * tempo_percent + 1e-5
    assert sd_phase <= 1.25 * phase_ms + 1e-5
    assert worst_tempo <= 4.5 * tempo_percent + 1e-5
    assert worst_phase <= 4.5 * phase_ms + 1e-5
    assert abs(statistics.mean(tempos)) <= 4 * tempo_percent / math.sqrt(200) + 1e-5  # no bias


def test_a_change_of_tempo_is_followed_within_a_beat():
    follower = ClockFollower()
    last_ns = run(follower, 120.0, 48)
    run(follower, 140.0, WINDOW_PULSES, from_ns=last_ns + pulse_ns_of(120.0))
    assert follower.tempo_bpm == pytest.approx(140.0, rel=1e-3)


@pytest.mark.parametrize("tempo_bpm", [20.0, 30.0, 120.0, 400.0])
def test_a_clock_is_lost_after_half_a_second_or_four_pulses(tempo_bpm):
    follower = ClockFollower()
    last_ns = round(run(follower, tempo_bpm, 30))
    wait_ns = max(LOST_AFTER_NS, 4 * pulse_ns_of(tempo_bpm))
    assert not follower.is_lost(round(last_ns + wait_ns - MS))
    assert follower.is_lost(round(last_ns + wait_ns + MS))
    assert abs(follower.deadline_ns() - (last_ns + wait_ns)) < 2000
    assert not follower.is_lost(follower.deadline_ns() - 1)
    assert follower.is_lost(follower.deadline_ns())


def test_after_a_gap_the_old_pulses_say_nothing():
    follower = ClockFollower()
    last_ns = run(follower, 120.0, 30)
    run(follower, 90.0, 3, from_ns=last_ns + 10 * 10**9)
    assert follower.tempo_bpm == pytest.approx(90.0, rel=1e-6)


def test_forgetting_is_like_new():
    follower = ClockFollower()
    run(follower, 120.0, 30)
    follower.forget()
    assert follower.tempo_bpm is None
    assert follower.deadline_ns() is None


@pytest.mark.parametrize("step_ms", [0.0, 5.0, 300.0])
def test_impossible_tempos_change_nothing(step_ms):
    follower = ClockFollower()
    run(follower, 120.0, 30)
    follower.expect(10**12)
    lone = ClockFollower()
    lone.pulse(0)
    lone.pulse(round(step_ms * MS))  # 0, 500 and 8.3 BPM
    assert lone.tempo_bpm is None
    assert lone.phase_ns == round(step_ms * MS)


@pytest.mark.parametrize(("tempo_bpm", "read"), [(19.8, 20.0), (404.0, 400.0)])
def test_just_outside_the_range_the_nearest_tempo_is_taken(tempo_bpm, read):
    follower = ClockFollower()
    run(follower, tempo_bpm, 30)
    assert follower.tempo_bpm == pytest.approx(read)


@pytest.mark.parametrize("jump_ms", [-8, -3, 3, 10, 100])
def test_a_start_may_begin_a_new_phase_and_keeps_the_tempo(jump_ms):
    """A player who presses play does not wait for the clock that ran before."""
    follower = ClockFollower()
    last_ns = run(follower, 120.0, 48)
    first_ns = round(last_ns + pulse_ns_of(120.0) + jump_ms * MS)
    follower.expect(first_ns - MS)
    follower.pulse(first_ns)
    assert abs(follower.phase_ns - first_ns) <= 2
    assert follower.tempo_bpm == pytest.approx(120.0, rel=1e-6)
    last_ns = run(follower, 120.0, 6, from_ns=first_ns + pulse_ns_of(120.0))
    assert abs(follower.phase_ns - last_ns) <= 2


def test_a_start_with_no_tempo_known_yet_begins_with_its_first_pulse():
    follower = ClockFollower()
    follower.pulse(0)
    follower.expect(100 * MS)
    follower.pulse(110 * MS)
    assert follower.phase_ns == 110 * MS
    follower.pulse(130 * MS)
    assert follower.tempo_bpm == pytest.approx(125.0)


def test_a_start_without_pulses_is_lost_like_a_clock():
    follower = ClockFollower()
    follower.expect(0)
    assert follower.deadline_ns() == LOST_AFTER_NS + 1
