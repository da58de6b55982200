from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.clock.transport import Transport, check_tempo
from live.theory.errors import FieldError

MS = 1_000_000
SECOND = 1_000_000_000
PULSE_120_NS = 60 * SECOND / (120 * 24)

tempos = st.floats(20, 400)


def feed_pulses(transport, count, from_ns, pulse_ns=PULSE_120_NS):
    """Pulses, the first at `from_ns`; returns when the next one is due."""
    for number in range(count):
        transport.clock_pulse(round(from_ns + number * pulse_ns))
    return round(from_ns + count * pulse_ns)


def following(tempo_bpm=120.0, pulses=97):
    """A transport that follows a clock at 120 BPM, and when its next pulse is due."""
    transport = Transport(tempo_bpm)
    transport.clock_start(0)
    return transport, feed_pulses(transport, pulses, 2 * MS)


@pytest.mark.parametrize("tempo_bpm", [20, 20.0, 168.5, 400])
def test_the_range_of_tempos_includes_its_ends(tempo_bpm):
    assert check_tempo(tempo_bpm) == tempo_bpm


@pytest.mark.parametrize("tempo_bpm", [19.999, 400.001, 0, -120, float("nan"), float("inf"), 1e9])
def test_other_tempos_are_refused_and_change_nothing(tempo_bpm):
    with pytest.raises(FieldError, match="20 to 400 BPM"):
        Transport(tempo_bpm)
    transport = Transport(120.0)
    transport.start(0)
    with pytest.raises(FieldError) as refused:
        transport.set_tempo(SECOND, tempo_bpm)
    assert refused.value.field == "tempo"
    assert transport.tempo_bpm == 120.0
    assert transport.ticks_at(2 * SECOND) == 4 * 960


def test_ten_minutes_at_120_do_not_drift_by_a_nanosecond():
    transport = Transport(120.0)
    transport.start(7)
    for beat in range(1201):
        assert transport.ns_at(960 * beat) == 7 + beat * SECOND // 2
        assert transport.ticks_at(7 + beat * SECOND // 2) == 960 * beat


@given(tempos, st.integers(0, 10**15), st.integers(0, 10**7))
def test_a_position_is_reached_when_arithmetic_says(tempo_bpm, start_ns, ticks):
    transport = Transport(tempo_bpm)
    transport.start(start_ns)
    exact = start_ns + Fraction(ticks) * 60 * SECOND / (Fraction(tempo_bpm) * 960)
    assert abs(transport.ns_at(ticks) - exact) <= 1
    assert transport.tick_at(transport.ns_at(ticks)) == ticks
    assert transport.ticks_at(transport.ns_at(ticks)) == pytest.approx(ticks, abs=1e-4)


@given(st.lists(st.tuples(st.integers(1, 10 * SECOND), tempos), max_size=20))
def test_a_change_of_tempo_never_moves_the_position(changes):
    transport = Transport(120.0)
    transport.start(0)
    at_ns, exact, tempo_bpm = 0, Fraction(0), Fraction(120)
    for gap_ns, next_bpm in changes:
        at_ns += gap_ns
        exact += gap_ns * tempo_bpm * 960 / (60 * SECOND)
        before = transport.ticks_at(at_ns)
        assert transport.set_tempo(at_ns, next_bpm)
        tempo_bpm = Fraction(next_bpm)
        assert transport.ticks_at(at_ns) == before
        assert transport.tempo_bpm == next_bpm
    assert transport.ticks_at(at_ns) == pytest.approx(float(exact), abs=1e-3)


@given(tempos, st.integers(0, 10**12), st.integers(1, 10**12))
def test_it_stands_still_while_stopped(tempo_bpm, played_ns, later_ns):
    transport = Transport(tempo_bpm)
    assert transport.ticks_at(123) == 0
    assert transport.clock_state() == "stopped"
    transport.start(0)
    assert transport.playing
    assert transport.clock_state() == "running"
    position = transport.ticks_at(played_ns)
    transport.stop(played_ns)
    assert not transport.playing
    assert transport.ticks_at(played_ns + later_ns) == position
    assert transport.set_tempo(played_ns + later_ns, 90.0)
    assert transport.ticks_at(played_ns + later_ns) == position
    transport.start(later_ns)
    assert transport.ticks_at(later_ns) == 0


# An outside clock: see tests/oracle/test_clock_midi.py for what MIDI 1.0 says.


def test_its_tempo_is_ours_while_it_runs_and_our_own_waits():
    transport, at_ns = following(tempo_bpm=90.0)
    assert transport.following
    assert transport.tempo_bpm == pytest.approx(120.0)
    assert not transport.set_tempo(at_ns, 100.0)
    assert transport.tempo_bpm == pytest.approx(120.0)
    transport.start(at_ns)
    assert not transport.following
    assert transport.tempo_bpm == 100.0


def test_own_playing_is_not_disturbed_by_pulses_but_by_a_start():
    transport = Transport(168.0)
    transport.start(0)
    at_ns = feed_pulses(transport, 48, 0)
    assert (transport.following, transport.tempo_bpm) == (False, 168.0)
    assert transport.clock_deadline_ns() is None
    assert not transport.check_clock(at_ns + 10 * SECOND)
    transport.clock_start(at_ns)
    assert (transport.playing, transport.following) == (False, True)
    assert transport.clock_pulse(at_ns)
    assert transport.playing
    assert transport.ticks_at(at_ns) == 0


def test_our_own_start_takes_back_a_start_that_waits_for_its_pulse():
    transport = Transport(168.0)
    transport.clock_start(0)
    transport.start(MS)
    assert not transport.clock_pulse(2 * MS)
    assert transport.ticks_at(2 * MS) == pytest.approx(168 * 960 / 60e3)


def test_between_pulses_the_position_goes_on():
    transport, at_ns = following(pulses=97)
    assert transport.pulse_position()[1] == 4 * 960
    assert transport.ticks_at(at_ns) == pytest.approx(4 * 960 + 40, abs=1e-3)
    assert transport.ticks_at(at_ns - round(PULSE_120_NS / 2)) == pytest.approx(
        4 * 960 + 20, abs=1e-3
    )


def test_a_clock_that_goes_while_we_play_is_lost_and_time_goes_on():
    transport, _ = following(tempo_bpm=90.0)
    deadline_ns = transport.clock_deadline_ns()
    assert not transport.check_clock(deadline_ns - 1)
    expected = transport.ticks_at(deadline_ns + SECOND)
    assert transport.check_clock(deadline_ns)
    assert transport.clock_state() == "lost"
    assert transport.playing
    assert transport.ticks_at(deadline_ns + SECOND) == expected
    assert transport.clock_deadline_ns() is None
    assert not transport.check_clock(deadline_ns + SECOND)  # told once


@pytest.mark.parametrize("off_ms", [0, 3, -3, 9])
def test_a_lost_clock_that_comes_back_joins_on_the_nearest_pulse(off_ms):
    transport, at_ns = following()
    transport.check_clock(transport.clock_deadline_ns())
    back_ns = at_ns + round(100 * PULSE_120_NS) + off_ms * MS
    assert not transport.clock_pulse(back_ns)
    assert transport.clock_state() == "running"
    assert transport.ticks_at(back_ns) == 97 * 40 + 100 * 40
    feed_pulses(transport, 10, back_ns + PULSE_120_NS)
    assert transport.pulse_position()[1] == (97 + 100 + 10) * 40


def test_while_the_clock_is_lost_the_player_sets_the_tempo():
    transport, at_ns = following()
    transport.check_clock(transport.clock_deadline_ns())
    at_ns += 2 * SECOND
    before = transport.ticks_at(at_ns)
    assert transport.set_tempo(at_ns, 60.0)
    assert transport.ticks_at(at_ns) == before
    assert transport.ticks_at(at_ns + SECOND) == pytest.approx(before + 960)


def test_stopping_while_the_clock_is_lost_ends_following():
    transport, at_ns = following(tempo_bpm=90.0)
    transport.check_clock(transport.clock_deadline_ns())
    transport.stop(at_ns + 2 * SECOND)
    assert not transport.following
    assert transport.clock_state() == "stopped"
    assert transport.tempo_bpm == 90.0
    assert not transport.join(at_ns + 3 * SECOND)
    feed_pulses(transport, 3, at_ns + 4 * SECOND)  # pulses alone do not count positions
    assert not transport.join(at_ns + 4 * SECOND + 60 * MS)


def test_a_clock_that_goes_while_we_stand_still_is_simply_gone():
    transport = Transport(90.0)
    feed_pulses(transport, 30, 0)
    assert transport.following
    assert transport.tempo_bpm == pytest.approx(120.0)
    assert not transport.check_clock(10 * SECOND)
    assert not transport.following
    assert transport.tempo_bpm == 90.0
    assert transport.clock_state() == "stopped"


def test_a_start_still_counts_when_its_first_pulse_comes_late():
    transport = Transport(90.0)
    transport.clock_start(0)
    assert transport.clock_deadline_ns() is not None
    assert not transport.check_clock(2 * SECOND)
    assert not transport.following  # so that a player need not wait for ever
    assert transport.clock_pulse(3 * SECOND)
    assert transport.playing
    assert transport.following
    assert transport.ticks_at(3 * SECOND) == 0


def test_joining_takes_up_the_place_of_a_clock_that_runs():
    transport, at_ns = following(pulses=49)
    transport.stop(at_ns - MS)
    assert transport.outside_runs
    at_ns = feed_pulses(transport, 24, at_ns)
    assert not transport.playing
    assert transport.join(at_ns - 5 * MS)
    assert transport.playing
    assert transport.following
    assert transport.ticks_at(at_ns) == pytest.approx(73 * 40, abs=0.01)
    feed_pulses(transport, 1, at_ns)
    assert transport.pulse_position()[1] == 73 * 40


def test_joining_after_playing_on_our_own():
    transport, at_ns = following(tempo_bpm=90.0, pulses=49)
    transport.start(at_ns)
    at_ns = feed_pulses(transport, 24, at_ns)
    assert transport.ticks_at(at_ns) == pytest.approx(90 * 960 / 120, abs=0.01)
    assert transport.join(at_ns)
    assert transport.tempo_bpm == pytest.approx(120.0)
    assert transport.ticks_at(at_ns) == pytest.approx(73 * 40, abs=0.01)


def test_there_is_nothing_to_join_without_a_running_clock():
    transport = Transport(90.0)
    assert not transport.join(0)
    feed_pulses(transport, 24, 0)
    assert not transport.join(500 * MS)  # it was never started
    transport, at_ns = following()
    transport.start(at_ns)
    assert not transport.join(at_ns + 5 * SECOND)  # it died while we played on our own
    transport, at_ns = following()
    transport.clock_stop(at_ns)
    assert not transport.join(at_ns)


def test_joining_with_one_pulse_keeps_the_tempo_we_had():
    transport = Transport(90.0)
    transport.clock_start(0)
    transport.clock_pulse(MS)
    transport.stop(2 * MS)
    assert transport.join(3 * MS)
    assert transport.tempo_bpm == 90.0


@pytest.mark.parametrize("lost", [False, True])
def test_unfollowing_goes_on_from_here_at_our_own_tempo(lost):
    transport, at_ns = following(tempo_bpm=90.0)
    if lost:
        transport.check_clock(transport.clock_deadline_ns())
    before = transport.ticks_at(at_ns)
    transport.unfollow(at_ns)
    assert transport.playing
    assert not transport.following
    assert transport.clock_state() == "running"
    assert transport.ticks_at(at_ns) == before
    assert transport.ticks_at(at_ns + SECOND) == pytest.approx(before + 1.5 * 960)
    assert transport.clock_deadline_ns() is None
    assert not transport.join(at_ns)
