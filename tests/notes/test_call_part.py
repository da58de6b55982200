"""When the player is listened to: rounds, early notes, free calls and their pauses."""

import pytest

from live.clock.metre import Metre
from live.notes.call_part import MAX_FREE_BARS
from live.notes.config import AnswerConfig
from live.notes.form import Form
from live.notes.listener import EARLY_TICKS
from tests.notes.stage import MS, SECOND, Stage, off, on, song_position

BAR = 3840
FREE = Form(free=True)


def notes_of(stage, request=-1):
    return [(n.onset_ticks, n.pitch) for n in stage.requests[request].brief.call.notes]


def started(**config):
    """An engine at 120 BPM whose transport has just been started at bar 0."""
    stage = Stage(tempo_bpm=120.0, **config)
    stage.do("start")
    return stage


def test_only_the_call_bars_are_listened_to():
    stage = started()
    stage.to_tick(960)
    stage.play(62)
    stage.to_tick(2 * BAR + 960)  # the answer plays
    stage.play(65)
    stage.to_tick(4 * BAR + 960)
    stage.play(69)
    stage.to_tick(8 * BAR)
    assert [f["bar"] for f in stage.facts("call")] == [0, 4]
    assert notes_of(stage, 1) == [(960, 62)]
    assert notes_of(stage) == [(960, 69)]


def test_no_notes_no_request_and_no_answer():
    stage = started()
    stage.to_tick(12 * BAR)
    assert stage.requests == []
    assert stage.facts("call") == stage.facts("answer") == stage.facts("late") == []


@pytest.mark.parametrize(
    ("early_ticks", "belongs"), [(1, True), (EARLY_TICKS - 1, True), (EARLY_TICKS + 2, False)]
)
def test_an_early_note_belongs_to_the_next_call(early_ticks, belongs):
    stage = started()
    stage.play(50)
    stage.to_tick(4 * BAR - early_ticks)
    stage.play(62)
    stage.to_tick(5 * BAR)
    stage.play(65)
    stage.to_tick(8 * BAR)
    wanted = [(0, 62), (BAR, 65)] if belongs else [(BAR, 65)]
    assert notes_of(stage) == wanted
    assert [f["bar"] for f in stage.facts("call")] == [0, 4]
    assert stage.times("call")[1] == stage.engine.transport.ns_at(4 * BAR)
    assert [f["bar"] for f in stage.facts("answer")] == [2, 6]


def test_a_note_before_the_answer_s_bar_line_is_still_of_the_call():
    stage = started()
    stage.to_tick(2 * BAR - 100)
    stage.midi(on(62))
    assert stage.facts("call") == [{"number": 1, "bar": 0}]


def test_a_key_held_from_before_is_not_called():
    stage = started()
    stage.to_tick(3 * BAR)
    stage.midi(on(62))
    stage.to_tick(5 * BAR)
    stage.midi(off(62))
    stage.to_tick(8 * BAR)
    assert stage.requests == []


@pytest.mark.parametrize(
    ("sixteenths", "call_bars_heard"),
    [(0, 0), (16, 0), (24, 0), (32, 4), (48, 4), (64, 4)],  # bars 0, 1, 1.5, 2, 3, 4
)
def test_beginning_in_the_middle_of_a_round(sixteenths, call_bars_heard):
    """In the call part the rest of it counts; in the answer part the next call is waited for."""
    stage = Stage(tempo_bpm=120.0)
    stage.clock(song_position(sixteenths))
    stage.clock(b"\xfb")
    pulse_ns = SECOND / 48
    while stage.engine.transport.ticks_at(stage.now_ns) < 9 * BAR:
        stage.pulses(6, pulse_ns)
        stage.midi(on(62))
        stage.midi(off(62))
    bars = [f["bar"] for f in stage.facts("call")]
    assert bars[0] == call_bars_heard
    assert bars == sorted(set(bars))
    assert {bar % 4 for bar in bars} == {0}
    assert {f["bar"] % 4 for f in stage.facts("answer")} == {2}


def test_beginning_after_the_cutoff_leaves_no_time_to_compose():
    stage = Stage(tempo_bpm=120.0)
    stage.clock(song_position(31))
    stage.clock(b"\xfb")
    stage.pulses(1, 1)
    stage.midi(on(62))
    stage.to(stage.now_ns + 300 * MS)
    assert stage.requests == []
    assert stage.engine.dialogue.late == 1


def test_a_transport_that_a_note_started_stops_after_two_silent_rounds():
    stage = Stage(tempo_bpm=120.0)
    stage.play(62)
    stage.to_tick(12 * BAR - 1)  # rounds: called, silent, silent
    assert stage.engine.transport.playing
    end_ns = stage.engine.transport.ns_at(12 * BAR)
    stage.to(end_ns + SECOND)
    assert not stage.engine.transport.playing
    assert stage.times("stop") == [end_ns]


def test_every_call_puts_the_end_off():
    stage = Stage(tempo_bpm=120.0)
    for bar in (0, 8, 16 - 0.02, 24):
        stage.to(round(bar * 2 * SECOND))
        stage.play(62)
    stage.to(36 * 2 * SECOND - MS)
    assert stage.engine.transport.playing
    stage.to(36 * 2 * SECOND + MS)
    assert not stage.engine.transport.playing


def test_a_transport_that_the_player_started_goes_on():
    stage = started()
    stage.to_tick(100 * BAR)
    assert stage.engine.transport.playing


def test_while_an_answer_is_held_nobody_needs_to_call():
    stage = Stage(tempo_bpm=120.0)
    stage.play(62)
    stage.to_tick(3 * BAR)
    stage.do("hold")
    stage.to_tick(40 * BAR)
    assert stage.engine.transport.playing
    stage.do("hold")
    stage.to(stage.now_ns + 20 * SECOND)
    assert not stage.engine.transport.playing


# Free form


def free(silence_beats=2.0, **config):
    return Stage(tempo_bpm=120.0, form=FREE, silence_beats=silence_beats, **config)


def test_a_pause_ends_a_free_call_and_the_next_bar_line_answers():
    stage = free()
    stage.play(62, length_ns=SECOND)  # until tick 1920; the pause is over at 3840
    stage.to(10 * SECOND)
    assert [r.brief.call.partial for r in stage.requests] == [False]
    assert stage.requests[0].brief.call.bars == 2  # the cutoff would leave 0 ms before bar 1
    assert stage.struck("answer")[0][0] == 4 * SECOND
    assert len(stage.struck("answer")) == 8  # one bar: about as long as what was played
    assert stage.facts("call") == [{"number": 1, "bar": 0}]


@pytest.mark.parametrize("silence_beats", [0.05, 0.5, 1, 2, 8, 64])
def test_the_pause_is_the_player_s_to_set(silence_beats):
    stage = free(silence_beats)
    stage.play(62)
    stage.to(40 * SECOND)
    asked = [r for r in stage.records if r.kind == "answer"]
    beats = min(0.2 + silence_beats, MAX_FREE_BARS * 4 - 0.3)
    bars = -(-(beats + 0.3) // 4)  # 150 ms are 0.3 beats
    assert asked[0].at_ns == bars * 2 * SECOND
    assert stage.requests[0].brief.call.bars == bars


def test_a_short_breath_does_not_end_it():
    stage = free()
    for _ in range(8):
        stage.play(62, length_ns=200 * MS)
        stage.to(stage.now_ns + 700 * MS)  # 1.4 beats
    assert stage.requests == []
    stage.to(stage.now_ns + SECOND)
    assert len(stage.requests) == 1
    assert len(stage.requests[0].brief.call.notes) == 8


def test_a_held_note_is_no_pause():
    stage = free()
    stage.midi(on(62))
    stage.play(65)
    stage.to(9 * SECOND)
    assert stage.requests == []
    stage.midi(off(62))
    stage.to(11 * SECOND)
    assert len(stage.requests) == 1


def test_a_trill_that_never_pauses_is_cut_at_the_limit():
    # Failure studies 5.8: call-and-response waits on a silence that never comes.
    stage = free()
    while stage.now_ns < 40 * SECOND:
        stage.play(62, length_ns=60 * MS)
        stage.play(64, length_ns=60 * MS)
    assert [f["bar"] for f in stage.facts("answer")] == [8, 15]  # the next one began in bar 7
    calls = [request.brief.call for request in stage.requests]
    assert [call.bars for call in calls] == [8, 8]
    assert stage.engine.dialogue.late == 0
    assert all(len(call.notes) > 200 for call in calls)


def test_a_drone_is_cut_at_the_limit_too():
    stage = free()
    stage.midi(on(62))
    stage.to(17 * SECOND)
    assert [f["bar"] for f in stage.facts("answer")] == [8]
    stage.midi(off(62))
    stage.to(60 * SECOND)
    assert len(stage.facts("call")) == 1


def test_an_early_note_opens_the_bar_that_follows():
    stage = free(silence_beats=0.5)
    stage.do("start")
    stage.to_tick(BAR - 60)
    stage.play(62)
    stage.to(8 * SECOND)
    assert stage.facts("call") == [{"number": 1, "bar": 1}]
    assert stage.times("call") == [2 * SECOND]
    assert stage.facts("answer")[0]["bar"] == 2


def test_a_very_short_early_call_is_a_bar_long_all_the_same():
    stage = free(silence_beats=0.02, answer=AnswerConfig(cutoff_ms=0))
    stage.do("start")
    stage.to_tick(BAR - 110)
    stage.play(62, length_ns=MS)
    stage.to(8 * SECOND)
    assert stage.requests[0].brief.call.bars == 1
    assert stage.facts("answer")[0]["bar"] == 2


def test_playing_on_before_the_answer_is_a_new_call_and_the_answer_plays():
    stage = free(silence_beats=1.0)
    stage.play(62)  # ends at 0.1 s, pause over at 0.6 s, answer at 2 s
    stage.to(1200 * MS)
    assert len(stage.requests) == 1
    stage.midi(on(65))
    stage.to(3 * SECOND)
    assert stage.engine.dialogue.is_playing
    assert stage.engine.dialogue.listener.is_open
    stage.midi(off(65))
    stage.to(6 * SECOND)
    assert [notes_of(stage, n) for n in (0, 1)] == [[(0, 62)], [(2304, 65)]]
    assert [f["number"] for f in stage.facts("answer")] == [1, 2]
    assert stage.engine.dialogue.late == 0


def test_of_two_calls_before_one_bar_line_the_later_is_answered():
    stage = free(silence_beats=0.5, metre=Metre(12, 8))
    stage.play(62)
    stage.to(SECOND)
    stage.play(65)
    stage.to(8 * SECOND)
    assert len(stage.requests) == 2
    assert [f["number"] for f in stage.facts("answer")] == [2]
    assert stage.facts("late") == []
    assert len(stage.facts("answer_end")) == 1


def test_a_call_during_a_long_answer_is_answered_in_its_turn():
    stage = free(silence_beats=1.0)
    while stage.now_ns < 7 * SECOND:
        stage.play(62)
        stage.to(stage.now_ns + 150 * MS)
    stage.to(8500 * MS)  # the answer of 4 bars plays from 8 s to 16 s
    assert stage.engine.dialogue.is_playing
    stage.play(65)
    stage.to(30 * SECOND)
    assert [f["bar"] for f in stage.facts("answer")] == [4, 5]
    assert [f["number"] for f in stage.facts("answer_end")] == [1, 2]
    ends = stage.times("answer_end")
    assert ends[0] == 10 * SECOND  # it gives way to the next one
    assert stage.receiver.sounding == set()


@pytest.mark.parametrize("how", ["lost", "mode", "panic", "reset"])
def test_keys_that_come_up_in_another_way_end_the_call_as_well(how):
    stage = free()
    stage.midi(on(62))
    stage.midi(on(65))
    stage.to(SECOND)
    if how == "lost":
        stage.lose(0)
    elif how == "mode":
        stage.midi(b"\xb0\x7b\x00")
    elif how == "panic":
        stage.do("panic")
    else:
        stage.midi(b"\xff")
    stage.to(2500 * MS)
    assert len(stage.requests) == 1
    assert [n.length_ticks for n in stage.requests[0].brief.call.notes] == [1920, 1920]


def test_what_another_input_holds_goes_on():
    stage = free()
    stage.midi(on(62), source=0)
    stage.midi(on(65), source=1)
    stage.to(SECOND)
    stage.lose(1)
    assert stage.engine.dialogue.listener.has_held
    stage.midi(b"\xb1\x7b\x00", source=0)  # another channel
    assert stage.engine.dialogue.listener.has_held


def test_a_free_transport_that_a_note_started_stops_when_nobody_plays():
    stage = free()
    stage.play(62)
    stage.to(8 * 2 * SECOND * 3 - MS)  # 8 bars with a call, 16 without
    assert stage.engine.transport.playing
    stage.to(stage.now_ns + 2 * MS)
    assert not stage.engine.transport.playing


def test_a_drone_alone_does_not_keep_it_running_for_ever():
    stage = free()
    stage.midi(on(62))
    stage.to(8 * 2 * SECOND * 3 - MS)
    assert stage.engine.transport.playing
    stage.to(stage.now_ns + 2 * MS)
    assert not stage.engine.transport.playing
    assert {note for _, _, note in stage.receiver.sounding} == {62}  # it is the player's to end


def test_a_longer_pause_set_in_the_middle_of_a_call_holds_for_it():
    stage = free(silence_beats=1.0)
    stage.play(62)
    stage.change(silence_beats=4.0)
    stage.to(2 * SECOND)
    assert stage.requests == []
    stage.to(2200 * MS)
    assert len(stage.requests) == 1


def test_leaving_free_form_in_a_call_forgets_its_marks():
    stage = free()
    stage.play(62)
    stage.change(form=Form(1, 1))
    stage.to(3500 * MS)
    assert stage.requests == []
    stage.to_tick(2 * BAR)
    stage.play(62)
    stage.to_tick(4 * BAR)
    assert [f["bar"] for f in stage.facts("answer")] == [3]
