"""The clock follower on synthetic clocks.

The bounds under jitter are those of textbook linear regression: if n stamps tremble by S each, the
slope trembles by S * sqrt(12 / n^3) and the value at the last one by S * sqrt(4 / n).
"""

import math
import random
import statistics
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from live.clock.follower import LOST_AFTER_NS, ClockFollower

MS = 1_000_000
MINUTE = 60_000_000_000
START_NS = 10**12


def pulse_ns_of(tempo_bpm):
    return MINUTE / (tempo_bpm * 24)


def run(follower, tempo_bpm, count, from_ns=START_NS, jitter_ms=0.0, seed=0):
    """Feed pulses; returns the true time of the last one."""
    rng = random.Random(seed)
    true_ns = [from_ns + number * pulse_ns_of(tempo_bpm) for number in range(count)]
    for stamp_ns in sorted(at_ns + rng.gauss(0, jitter_ms) * MS for at_ns in true_ns):
        follower.pulse(round(stamp_ns))
    return true_ns[-1]


@pytest.mark.parametrize("tempo_bpm", [20.0, 60.0, 119.5, 120.0, 168.0, 172.0, 174.123, 400.0])
def test_a_steady_clock_is_read_exactly(tempo_bpm):
    follower = ClockFollower()
    last_ns = run(follower, tempo_bpm, 49)
    assert follower.tempo_bpm == pytest.approx(tempo_bpm, rel=1e-7)
    assert abs(follower.phase_ns - last_ns) <= 2
    assert follower.index == 49


def test_nothing_is_known_before_two_pulses():
    follower = ClockFollower()
    assert follower.tempo_bpm is None
    assert follower.deadline_ns() is None
    assert not follower.is_lost(10**15)
    assert not follower.is_crowded
    follower.pulse(5 * MS)
    assert follower.tempo_bpm is None
    assert follower.phase_ns == 5 * MS
    follower.pulse(25 * MS)
    assert follower.tempo_bpm == pytest.approx(125.0)


@pytest.mark.parametrize("jitter_ms", [0, 1, 2, 5])
def test_jitter_moves_tempo_and_phase_no_more_than_least_squares_allows(jitter_ms):
    pulses, tempo_bpm = 72, 100.0
    tempos, phases = [], []
    for seed in range(100):
        follower = ClockFollower()
        last_ns = run(follower, tempo_bpm, pulses, jitter_ms=jitter_ms, seed=seed)
        tempos.append(100 * (follower.tempo_bpm / tempo_bpm - 1))
        phases.append((follower.phase_ns - last_ns) / MS)
    tempo_percent = 100 * jitter_ms * MS / pulse_ns_of(tempo_bpm) * math.sqrt(12 / pulses**3)
    phase_ms = jitter_ms * math.sqrt(4 / pulses)
    assert statistics.pstdev(tempos) <= 1.25 * tempo_percent + 1e-5
    assert statistics.pstdev(phases) <= 1.25 * phase_ms + 1e-5
    assert max(map(abs, tempos)) <= 4.5 * tempo_percent + 1e-5
    assert max(map(abs, phases)) <= 4.5 * phase_ms + 1e-5
    assert abs(statistics.mean(tempos)) <= 4 * tempo_percent / math.sqrt(100) + 1e-5  # no bias


@given(st.floats(40, 220), st.integers(0, 2**63), st.floats(0.01, 10))
@settings(max_examples=40, deadline=None)
def test_the_same_pulses_later_or_slower_give_the_same_line(tempo_bpm, later_ns, jitter_ms):
    """Nothing depends on when the clock began."""
    one, other = ClockFollower(), ClockFollower()
    rng = random.Random(1)
    for number in range(60):
        stamp_ns = round(number * pulse_ns_of(tempo_bpm) + rng.gauss(0, jitter_ms / 10) * MS)
        one.pulse(START_NS + stamp_ns)
        other.pulse(START_NS + later_ns + stamp_ns)
    assert other.pulse_ns == one.pulse_ns
    assert other.phase_ns == one.phase_ns + later_ns
    assert other.index == one.index


@given(
    st.floats(40, 200),
    st.sets(st.integers(1, 160), max_size=12),
    st.sets(st.integers(1, 160), max_size=12),
)
@settings(max_examples=60, deadline=None)
def test_lost_and_doubled_pulses_are_counted_rightly(tempo_bpm, lost, doubled):
    """Whatever is lost or comes twice, once two whole beats were heard the count is the sender's.

    The last ones come through, so that there is something to count by.
    """
    follower = ClockFollower()
    pulse_ns = pulse_ns_of(tempo_bpm)
    for number in range(-48, 185):
        if number in lost:
            continue
        at_ns = round(START_NS + number * pulse_ns)
        follower.pulse(at_ns)
        if number in doubled:
            follower.pulse(at_ns + MS // 10)
    assert follower.index == 48 + 185
    assert abs(follower.phase_ns - (START_NS + 184 * pulse_ns)) <= 1000
    assert follower.tempo_bpm == pytest.approx(tempo_bpm, rel=1e-5)


@given(st.floats(40, 200), st.integers(1, 20))
@settings(max_examples=40, deadline=None)
def test_a_run_of_lost_pulses_shorter_than_a_lost_clock_is_counted(tempo_bpm, gone):
    pulse_ns = pulse_ns_of(tempo_bpm)
    gone = min(gone, int(0.45e9 / pulse_ns) - 1)
    follower = ClockFollower()
    last_ns = run(follower, tempo_bpm, 96)
    last_ns = run(follower, tempo_bpm, 24, from_ns=last_ns + (gone + 1) * pulse_ns)
    assert follower.index == 96 + gone + 24
    assert abs(follower.phase_ns - last_ns) <= 1000


@pytest.mark.parametrize("late_ms", [5, 12, 30, 80])
@pytest.mark.parametrize("jitter_ms", [0.0, 0.4])
def test_a_stamp_that_went_astray_moves_nothing(late_ms, jitter_ms):
    follower = ClockFollower()
    last_ns = run(follower, 172.0, 96, jitter_ms=jitter_ms)
    tempo_bpm = follower.tempo_bpm
    pulse_ns = pulse_ns_of(172.0)
    follower.pulse(round(last_ns + pulse_ns + late_ms * MS))
    # what waited behind it comes right after it
    for number in range(2, 26):
        at_ns = last_ns + number * pulse_ns
        follower.pulse(round(max(at_ns, last_ns + pulse_ns + late_ms * MS + number)))
    assert follower.index == 96 + 25
    assert abs(follower.phase_ns - (last_ns + 25 * pulse_ns)) <= 0.3 * MS
    assert follower.tempo_bpm == pytest.approx(tempo_bpm, rel=1e-3)


@pytest.mark.parametrize("tempo_bpm", [120.0, 171.3])
@pytest.mark.parametrize("jitter_ms", [0.0, 0.5, 2.0, 5.0])
@pytest.mark.parametrize("stall_ms", [30, 100, 200, 400])
@pytest.mark.parametrize("apart_us", [30, 400])
def test_pulses_that_a_stalled_machine_delivers_at_once_are_all_counted(
    tempo_bpm, jitter_ms, stall_ms, apart_us
):
    # Before they had an explanation of their own, the count ran away by whole bars.
    pulse_ns = 60e9 / (tempo_bpm * 24)
    for seed in range(3):
        chance = random.Random(seed)
        came = sorted(
            10**12 + n * pulse_ns + abs(chance.gauss(0, jitter_ms)) * MS for n in range(300)
        )
        from_ns = 10**12 + (120 - chance.random()) * pulse_ns
        to_ns = from_ns + stall_ms * MS
        held = [at_ns for at_ns in came if from_ns <= at_ns < to_ns]
        bunch = [to_ns + index * apart_us * 1000 for index in range(len(held))]
        follower = ClockFollower()
        for at_ns in sorted([at_ns for at_ns in came if at_ns not in held] + bunch):
            follower.pulse(round(at_ns))
        assert follower.index == 300
        assert follower.tempo_bpm == pytest.approx(tempo_bpm, rel=0.01)


@pytest.mark.parametrize(("before", "after"), [(160, 176), (120, 140), (174, 87), (60, 120)])
@pytest.mark.parametrize("jitter_ms", [0.0, 0.5])
def test_a_jump_of_tempo_is_followed_within_two_beats(before, after, jitter_ms):
    follower = ClockFollower()
    last_ns = run(follower, before, 96, jitter_ms=jitter_ms)
    last_ns = run(follower, after, 48, last_ns + pulse_ns_of(before), jitter_ms, seed=1)
    assert follower.tempo_bpm == pytest.approx(after, rel=2e-3 if jitter_ms else 1e-4)
    assert abs(follower.phase_ns - last_ns) <= (1 if jitter_ms else 0.01) * MS
    assert follower.index == 144


@pytest.mark.parametrize("to_bpm", [140, 100])
def test_a_ramp_is_followed_and_no_pulse_is_miscounted(to_bpm):
    """From 120 BPM within eight bars; the position stays within 2 ms."""
    follower = ClockFollower()
    at_ns = run(follower, 120.0, 96)
    tempos = [120 + (to_bpm - 120) * number / 768 for number in range(768)]
    for number, tempo_bpm in enumerate(tempos):
        at_ns += pulse_ns_of(tempo_bpm)
        follower.pulse(round(at_ns))
        assert follower.index == 97 + number
        assert abs(follower.phase_ns - at_ns) <= 2 * MS
        assert follower.tempo_bpm == pytest.approx(tempo_bpm, rel=0.012)


def test_a_phase_that_leaps_is_joined_with_the_tempo_kept():
    """A sequencer that loops without a word."""
    follower = ClockFollower()
    last_ns = run(follower, 120.0, 96)
    last_ns = run(follower, 120.0, 24, from_ns=last_ns + 1.45 * pulse_ns_of(120.0))
    assert abs(follower.phase_ns - last_ns) <= 0.1 * MS
    assert follower.tempo_bpm == pytest.approx(120.0, rel=1e-3)


@pytest.mark.parametrize(("first", "second"), [(100.0, 140.0), (140.0, 100.0), (172.0, 120.0)])
def test_of_two_clocks_on_one_port_one_is_followed_and_it_is_told(first, second):
    stamps = [START_NS + n * pulse_ns_of(first) for n in range(600)]
    stamps += [START_NS + 10**9 + n * pulse_ns_of(second) for n in range(600)]
    follower = ClockFollower()
    tempos = []
    for stamp_ns in sorted(stamps)[:700]:
        follower.pulse(round(stamp_ns))
        tempos.append(follower.tempo_bpm)
    assert follower.is_crowded
    assert any(follower.tempo_bpm == pytest.approx(bpm, rel=2e-3) for bpm in (first, second))
    late = tempos[-300:]
    assert max(abs(b / a - 1) for a, b in pairwise(late)) < 0.002  # it does not waver


def test_one_clock_by_two_ways_is_one_clock():
    follower = ClockFollower()
    for number in range(200):
        at_ns = round(START_NS + number * pulse_ns_of(172.0))
        follower.pulse(at_ns)
        follower.pulse(at_ns + 200_000)
    assert follower.index == 200
    assert follower.tempo_bpm == pytest.approx(172.0, rel=1e-6)
    assert follower.is_crowded


@pytest.mark.parametrize("tempo_bpm", [*range(60, 200, 5), 133.9, 156.3, 170.3, 171.3])
def test_stamps_in_whole_periods_of_a_sound_server_are_averaged(tempo_bpm):
    """A server that hands over once a period counts in periods (here 64 frames at 48 kHz).

    The tempo is within 0.1 BPM after eight beats all the same, and no change is imagined.
    """
    follower = ClockFollower()
    period_ns = 64e9 / 48_000
    errors = []
    for number in range(24 * 16):
        at_ns = START_NS + number * pulse_ns_of(tempo_bpm)
        follower.pulse(round(math.ceil(at_ns / period_ns) * period_ns))
        if number >= 24:
            assert -MS / 100 <= follower.phase_ns - at_ns <= 1.1 * period_ns
        if number >= 24 * 8:
            errors.append(abs(follower.tempo_bpm - tempo_bpm))
    assert max(errors) < 0.1
    assert follower.index == 24 * 16


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


@pytest.mark.parametrize("rested", [False, True])
def test_after_a_gap_a_new_tempo_is_found_within_a_beat(rested):
    follower = ClockFollower()
    last_ns = run(follower, 120.0, 30)
    if rested:
        follower.rest()
        assert follower.deadline_ns() is None
        assert follower.tempo_bpm == pytest.approx(120.0)
    last_ns = run(follower, 90.0, 24, from_ns=last_ns + 10 * 10**9)
    assert follower.tempo_bpm == pytest.approx(90.0, rel=1e-3)
    assert abs(follower.phase_ns - last_ns) <= 0.05 * MS


def test_after_a_gap_the_same_tempo_is_believed_at_once():
    follower = ClockFollower()
    last_ns = run(follower, 172.0, 96)
    run(follower, 172.0, 3, from_ns=last_ns + 10 * 10**9, jitter_ms=1.0, seed=3)
    assert follower.tempo_bpm == pytest.approx(172.0, rel=0.08)


def test_forgetting_is_like_new():
    follower = ClockFollower()
    run(follower, 120.0, 30)
    follower.forget()
    assert follower.tempo_bpm is None
    assert follower.deadline_ns() is None


@pytest.mark.parametrize("step_ms", [0.0, 5.0, 300.0])
def test_impossible_tempos_change_nothing(step_ms):
    follower = ClockFollower()
    follower.pulse(0)
    follower.pulse(round(step_ms * MS))  # 0, 500 and 8.3 BPM
    assert follower.tempo_bpm is None


@pytest.mark.parametrize(("tempo_bpm", "read"), [(19.8, 20.0), (404.0, 400.0)])
def test_just_outside_the_range_the_nearest_tempo_is_taken(tempo_bpm, read):
    follower = ClockFollower()
    run(follower, tempo_bpm, 30)
    assert follower.tempo_bpm == pytest.approx(read)


@pytest.mark.parametrize("jump_ms", [-8, -5, 5, 8, 100])
def test_a_start_may_begin_a_new_phase_and_keeps_the_tempo(jump_ms):
    """A player who presses play does not wait for the clock that ran before."""
    follower = ClockFollower()
    last_ns = run(follower, 120.0, 48)
    first_ns = round(last_ns + pulse_ns_of(120.0) + jump_ms * MS)
    follower.expect(first_ns - MS)
    follower.pulse(first_ns)
    assert abs(follower.phase_ns - first_ns) <= 0.05 * MS
    assert follower.index == 49
    assert follower.tempo_bpm == pytest.approx(120.0, rel=1e-4)
    last_ns = run(follower, 120.0, 6, from_ns=first_ns + pulse_ns_of(120.0))
    assert abs(follower.phase_ns - last_ns) <= 0.05 * MS


@pytest.mark.parametrize("late_ms", [-3, 3])
def test_a_start_on_the_old_grid_keeps_it_though_its_pulse_trembles(late_ms):
    follower = ClockFollower()
    last_ns = run(follower, 120.0, 96, jitter_ms=2.0)
    follower.expect(round(last_ns))
    first_ns = last_ns + pulse_ns_of(120.0)
    follower.pulse(round(first_ns + late_ms * MS))
    assert abs(follower.phase_ns - first_ns) < 1.5 * MS


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
