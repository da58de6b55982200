"""MIDI clock against the standard: MIDI 1.0 Detailed Specification 4.2.1 (MMA 1996).

Clauses, as read in the text forms named (the specification itself is not redistributable):
- "System Real Time Messages", Timing Clock F8: 24 to a quarter note. Start FA: from the beginning
  of the song, at the next clock. Continue FB: from where it was stopped, or sent to by song
  position, "at the time of the next clock". Stop FC: at once. Read in the real-time list at
  cotse.com/dlf/man/midi/realtime.htm and midi.org/community/midi-software/send-midi-clock.
- "System Common Messages", Song Position Pointer F2: 14 bits, low 7 first, in MIDI beats of 6
  clocks since the start of the song; set to 0 by Start; counts on every sixth clock until Stop;
  goes on from its value with Continue; Start is a song position of 0 plus a Continue. Read in
  G. Haus (ed.), lim.di.unimi.it/IEEE/MIDI/SOT2.HTM, table XIX.
- "Active Sensing" FE and "System Reset" FF: the same real-time list.
"""

from __future__ import annotations

import pytest

from live.clock.transport import Transport
from tests.notes.stage import (
    CONTINUE,
    MS,
    PULSE,
    SECOND,
    START,
    STOP,
    Stage,
    off,
    on,
    song_position,
)

BEAT_NS = SECOND // 2
PULSE_NS = BEAT_NS / 24


def beats(stage: Stage) -> float:
    return stage.engine.transport.ticks_at(stage.now_ns) / 960


def stage_at_120(**config) -> Stage:
    """An engine whose own tempo is another one, so that ours cannot pass for the clock's."""
    return Stage(tempo_bpm=90.0, start_on_first_note=False, **config)


def test_pulses_before_a_start_only_set_the_tempo():
    # "System Real Time": the clock should run while stopped (midi.org thread).
    stage = stage_at_120()
    stage.pulses(96, PULSE_NS)
    assert not stage.engine.transport.playing
    assert beats(stage) == 0
    assert stage.engine.transport.tempo_bpm == pytest.approx(120.0)
    assert stage.facts("start") == []


def test_the_clock_after_a_start_is_the_beat_not_the_start_itself():
    stage = stage_at_120()
    stage.pulses(48, PULSE_NS)
    stage.clock(START)
    assert not stage.engine.transport.playing
    stage.to(stage.now_ns + 15 * MS)
    assert not stage.engine.transport.playing
    first_ns = stage.now_ns
    stage.clock(PULSE)
    assert stage.engine.transport.playing
    assert beats(stage) == 0
    assert stage.times("start") == [first_ns]
    assert stage.facts("start")[0]["beat"] == 0
    assert stage.facts("start")[0]["tempo"] == pytest.approx(120.0)


@pytest.mark.parametrize("quarters", [1, 4, 16])
def test_24_clocks_are_a_quarter_note(quarters):
    stage = stage_at_120()
    stage.clock(START)
    stage.pulses(24 * quarters, PULSE_NS)
    stage.clock(PULSE)
    assert beats(stage) == quarters


def test_the_song_position_counts_on_every_sixth_clock():
    transport = Transport(120.0)
    transport.clock_start(0)
    for clock in range(60):
        transport.clock_pulse(round(clock * PULSE_NS))
        assert transport.pulse_position()[1] // 240 == clock // 6


def test_stop_is_at_once_and_pulses_after_it_do_not_move_us():
    stage = stage_at_120()
    stage.clock(START)
    stage.pulses(36, PULSE_NS)
    stage.clock(STOP)
    stopped_at = beats(stage)
    assert not stage.engine.transport.playing
    assert stage.times("stop") == [stage.now_ns]
    stage.pulses(48, PULSE_NS)
    assert beats(stage) == stopped_at == pytest.approx(1.5, abs=1e-6)


def test_continue_goes_on_where_it_was_stopped_at_the_next_clock():
    stage = stage_at_120()
    stage.clock(START)
    stage.pulses(36, PULSE_NS)  # clocks 0 to 35; the next one is number 36
    stage.clock(STOP)
    stage.pulses(10, PULSE_NS)
    stage.clock(CONTINUE)
    assert not stage.engine.transport.playing
    stage.clock(PULSE)
    assert stage.engine.transport.playing
    assert beats(stage) == 36 / 24
    assert stage.facts("start")[-1]["beat"] == 1.5


@pytest.mark.parametrize(
    ("sixteenths", "bar", "beat"),
    [(0, 0, 0.0), (1, 0, 0.25), (8, 0, 2.0), (16, 1, 0.0), (33, 2, 0.25), (16383, 1023, 3.75)],
)
def test_song_position_then_continue(sixteenths, bar, beat):
    # 8 MIDI beats are the third quarter note (jglatt's MIDI notes); 16384 sixteenths = 1024 bars.
    stage = stage_at_120()
    stage.pulses(24, PULSE_NS)
    stage.clock(song_position(sixteenths))
    assert beats(stage) == sixteenths / 4
    stage.clock(CONTINUE)
    stage.clock(PULSE)
    assert beats(stage) == sixteenths / 4
    start = stage.facts("start")[0]
    assert (start["bar"], start["beat"]) == (bar, beat)


def test_start_sets_the_song_position_to_0():
    stage = stage_at_120()
    stage.clock(song_position(64))
    stage.clock(START)
    stage.clock(PULSE)
    assert beats(stage) == 0


def test_the_low_seven_bits_come_first():
    stage = stage_at_120()
    stage.clock(b"\xf2\x05\x01")
    assert beats(stage) == (1 * 128 + 5) / 4


def test_song_position_and_continue_change_nothing_while_it_runs():
    # Song position is for a receiver that stands still; a continue tells what is done already.
    stage = stage_at_120()
    stage.clock(START)
    stage.pulses(30, PULSE_NS)
    stage.clock(song_position(100))
    stage.clock(CONTINUE)
    assert stage.engine.transport.playing
    stage.clock(PULSE)
    assert beats(stage) == 30 / 24
    assert len(stage.facts("start")) == 1


def test_a_start_while_it_runs_begins_again():
    # A start is a song position of 0 plus a continue.
    stage = stage_at_120()
    stage.clock(START)
    stage.pulses(30, PULSE_NS)
    stage.clock(START)
    stage.pulses(24, PULSE_NS)
    stage.clock(PULSE)
    assert beats(stage) == 1
    assert [f["bar"] for f in stage.facts("start")] == [0, 0]


def test_a_start_takes_over_from_our_own_clock():
    stage = stage_at_120()
    stage.do("start")
    stage.to(3 * SECOND)
    stage.clock(song_position(16))  # for the continue, it does not move what we play
    assert beats(stage) == 3 * 1.5
    stage.clock(CONTINUE)
    stage.clock(PULSE)
    assert beats(stage) == 4
    assert stage.engine.transport.following


def test_the_player_may_stop_and_join_again_while_the_clock_runs():
    stage = stage_at_120()
    stage.clock(START)
    stage.pulses(30, PULSE_NS)
    stage.do("stop")
    stage.pulses(42, PULSE_NS)
    stage.do("start")
    stage.clock(PULSE)
    assert beats(stage) == 72 / 24
    assert stage.facts("start")[-1]["beat"] == pytest.approx(3.0)


def test_real_time_on_a_keyboard_passes_and_means_nothing_here():
    # Only the clock input is followed, so that two masters never fight.
    stage = stage_at_120()
    for data in (START, PULSE, CONTINUE, STOP):
        stage.midi(data)
    assert not stage.engine.transport.playing
    assert [r.data for r in stage.out("through")] == [START, PULSE, CONTINUE, STOP]


def test_with_following_switched_off_the_clock_input_means_nothing():
    stage = stage_at_120(follow_clock=False)
    stage.clock(START)
    stage.pulses(48, PULSE_NS)
    assert not stage.engine.transport.playing
    assert not stage.engine.transport.following
    assert stage.records == []


def test_notes_and_active_sensing_on_the_clock_input_mean_nothing():
    stage = stage_at_120()
    for data in (on(60), off(60), b"\xfe", b"\xff", b"\xf3\x01"):
        stage.clock(data)
    assert stage.records == []


def test_a_lost_clock_is_told_once_and_joins_on_the_grid():
    stage = stage_at_120()
    stage.clock(START)
    stage.pulses(48, PULSE_NS)
    stage.to(stage.now_ns + 3 * SECOND)
    assert [f["what"] for f in stage.facts("error")] == ["the outside clock has gone; tempo kept"]
    assert beats(stage) == pytest.approx(2 + 6, abs=1e-3)
    stage.to(stage.now_ns + 5 * MS)  # a fifth of a pulse beside the grid
    stage.pulses(24, PULSE_NS)
    stage.clock(PULSE)
    assert beats(stage) == 9
    assert len(stage.facts("start")) == 1


def test_a_clock_that_stops_while_we_stand_still_is_no_error():
    stage = stage_at_120()
    stage.clock(START)
    stage.pulses(48, PULSE_NS)
    stage.clock(STOP)
    stage.to(stage.now_ns + 10 * SECOND)
    stage.tick()
    assert stage.facts("error") == []
    assert not stage.engine.transport.following


def test_active_sensing_that_falls_silent_ends_the_notes_of_its_input():
    # "If a period of 300 ms passes with no activity, the receiver will turn off the voices and
    # return to normal operation"; without any FE it never expects one.
    stage = stage_at_120()
    stage.midi(on(50), source=1)
    stage.midi(on(53), source=2)
    stage.midi(b"\xfe", source=1)
    for _ in range(5):
        stage.to(stage.now_ns + 299 * MS)
        stage.midi(b"\xfe", source=1)
    assert {note for _, _, note in stage.receiver.sounding} == {50, 53}
    stage.to(stage.now_ns + 299 * MS)
    stage.midi(b"\xb0\x01\x00", source=1)  # "a transmission of any type"
    stage.to(stage.now_ns + 299 * MS)
    assert {note for _, _, note in stage.receiver.sounding} == {50, 53}
    stage.to(stage.now_ns + 101 * MS)
    assert {note for _, _, note in stage.receiver.sounding} == {53}
    stage.to(stage.now_ns + 60 * SECOND)
    assert {note for _, _, note in stage.receiver.sounding} == {53}
    assert b"\xfe" not in [r.data for r in stage.out("through")]  # ours would have to go on


def test_system_reset_ends_every_note_and_passes():
    stage = stage_at_120()
    stage.midi(on(50))
    stage.midi(b"\xff")
    assert stage.receiver.sounding == set()
    assert [r.data for r in stage.out("through")] == [on(50), off(50), b"\xff"]
