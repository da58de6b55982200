"""The answer's first note leaves exactly on its bar line, or the bar stays empty."""

from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from live.clock.metre import Metre
from live.notes.config import AnswerConfig
from live.notes.form import BAR_COUNTS, Form
from tests.notes.stage import MS, SECOND, Stage, bass, off, on

METRES = [
    Metre(*m) for m in ((2, 4), (3, 4), (4, 4), (5, 4), (6, 8), (7, 8), (9, 8), (12, 8), (2, 2))
]
TEMPOS = (20.0, 60.0, 119.3, 120.0, 160.0, 168.0, 172.0, 174.5, 180.0, 333.3, 400.0)


def bar_line_ns(start_ns, bar, metre, tempo_bpm):
    """By hand: a bar holds 4 * beats / unit quarter notes of 60 / tempo seconds."""
    quarters = Fraction(4 * metre.beats * bar, metre.unit)
    return start_ns + quarters * 60 * SECOND / Fraction(tempo_bpm)


def call_and_answer(form, metre, tempo_bpm, **config):
    stage = Stage(form=form, metre=metre, tempo_bpm=tempo_bpm, **config)
    stage.to(SECOND)
    stage.play(62, length_ns=30 * MS)
    stage.to(int(bar_line_ns(SECOND, form.bars, metre, tempo_bpm)) + MS)
    stage.tick()
    return stage


@pytest.mark.parametrize("metre", METRES, ids=str)
@pytest.mark.parametrize("tempo_bpm", TEMPOS)
def test_on_its_bar_line_in_every_form_metre_and_tempo(metre, tempo_bpm):
    for call_bars, answer_bars in product(BAR_COUNTS, BAR_COUNTS):
        form = Form(call_bars, answer_bars)
        stage = call_and_answer(form, metre, tempo_bpm)
        wanted = bar_line_ns(SECOND, call_bars, metre, tempo_bpm)
        struck = stage.struck("answer")
        assert abs(struck[0][0] - wanted) <= 1
        assert stage.times("answer") == [struck[0][0]]
        assert stage.facts("answer")[0]["bar"] == call_bars
        end = bar_line_ns(SECOND, form.bars, metre, tempo_bpm)
        assert abs(stage.times("answer_end")[0] - end) <= 1
        assert all(at_ns < end for at_ns, _ in struck)
        assert stage.receiver.sounding == set()
        assert stage.engine.dialogue.late == 0


@settings(deadline=None)
@given(
    st.sampled_from(METRES),
    st.floats(20, 400),
    st.sampled_from(BAR_COUNTS),
    st.sampled_from(BAR_COUNTS),
)
def test_on_its_bar_line_at_any_tempo(metre, tempo_bpm, call_bars, answer_bars):
    stage = call_and_answer(Form(call_bars, answer_bars), metre, tempo_bpm)
    wanted = bar_line_ns(SECOND, call_bars, metre, tempo_bpm)
    assert abs(stage.struck("answer")[0][0] - wanted) <= 1


@pytest.mark.parametrize("delay_ms", [0, 1, 60, 149])
def test_a_composer_within_its_time_is_in_time(delay_ms):
    stage = call_and_answer(Form(2, 2), Metre(), 168.0, delay_ns=delay_ms * MS)
    assert len(stage.struck("answer")) == 16
    assert stage.facts("late") == []


def late_composer(brief):
    """One whose early look fails, so that only the final answer could be played."""
    return () if brief.call.partial else bass(brief)


@pytest.mark.parametrize("delay_ms", [151, 400, 3000, None])
def test_a_late_composer_leaves_the_bars_empty_and_is_counted(delay_ms):
    delay_ns = None if delay_ms is None else delay_ms * MS
    stage = call_and_answer(Form(2, 2), Metre(), 168.0, delay_ns=delay_ns, compose=late_composer)
    stage.to(stage.now_ns + 5 * SECOND)
    assert stage.struck("answer") == []
    assert stage.facts("late") == [{"number": 1}]
    assert stage.engine.dialogue.late == 1
    wanted = bar_line_ns(SECOND, 2, Metre(), 168.0)
    assert abs(stage.times("late")[0] - wanted) <= 1


def test_a_composer_that_fails_leaves_the_bars_empty_and_is_counted():
    stage = call_and_answer(Form(2, 2), Metre(), 168.0, compose=lambda _: ())
    assert stage.struck("answer") == []
    assert stage.engine.dialogue.late == 1


def test_the_early_look_stands_in_when_the_final_answer_is_late():
    stage = Stage(tempo_bpm=168.0, compose=lambda brief: bass(brief) if brief.call.partial else ())
    stage.play(62)
    stage.to(3 * SECOND)
    assert [r.brief.call.partial for r in stage.requests] == [True, False]
    assert stage.struck("answer")
    assert stage.engine.dialogue.late == 0


def test_the_composer_is_asked_early_and_again_with_the_whole_call():
    stage = Stage(tempo_bpm=120.0)  # 2 + 2 bars: look at 2 s, cutoff at 4 s - 150 ms
    stage.play(62)
    stage.to(3 * SECOND)
    stage.play(65)
    stage.midi(on(69))  # held over the end
    stage.to(5 * SECOND)
    early, final = (request.brief.call for request in stage.requests)
    assert early.partial
    assert not final.partial
    assert [n.pitch for n in early.notes] == [62]
    assert [(n.onset_ticks, n.length_ticks, n.pitch) for n in final.notes] == [
        (0, 192, 62), (5760, 192, 65), (5952, 7680 - 5952, 69),
    ]  # fmt: skip
    assert [request.brief.seed for request in stage.requests] == [0, 0]
    assert final.bars == 2
    assert stage.struck("answer")[0][0] == 4 * SECOND


@pytest.mark.parametrize("cutoff_ms", [0, 150, 400, 2000, 60_000])
@pytest.mark.parametrize("tempo_bpm", [20.0, 168.0, 400.0])
@pytest.mark.parametrize("metre", [Metre(2, 4), Metre(12, 8)], ids=str)
def test_whatever_the_cutoff_there_is_a_final_request_in_the_second_half(
    cutoff_ms, tempo_bpm, metre
):
    answer = AnswerConfig(cutoff_ms=cutoff_ms)
    stage = call_and_answer(Form(1, 1), metre, tempo_bpm, answer=answer)
    partial = [request.brief.call.partial for request in stage.requests]
    assert partial in ([False], [True, False])
    assert stage.struck("answer")


def test_a_tempo_change_moves_the_bar_line_with_it():
    stage = Stage(tempo_bpm=120.0)
    stage.play(62)
    stage.to(SECOND)
    stage.change(tempo_bpm=60.0)  # 2 of 8 beats have gone by
    stage.to(20 * SECOND)
    assert stage.struck("answer")[0][0] == SECOND + 6 * SECOND
    assert stage.times("call") == [0]


def test_what_was_called_before_a_tempo_change_is_told_at_its_true_time():
    stage = Stage(tempo_bpm=120.0, start_on_first_note=False)
    stage.do("start")
    stage.to(SECOND)
    stage.change(tempo_bpm=60.0)
    stage.to(2 * SECOND)
    stage.play(62)
    assert stage.times("call") == [0]
    assert stage.facts("call") == [{"number": 1, "bar": 0}]


@pytest.mark.parametrize("pulse_in_bar", range(96))
def test_a_stop_at_each_clock_of_a_bar_leaves_nothing_sounding(pulse_in_bar):
    """Failure studies 3.8: every note has an owner, and stop releases at once."""
    stage = Stage(tempo_bpm=120.0)
    stage.play(62)
    stage.to_tick(2 * 3840 + pulse_in_bar * 40)
    assert len(stage.receiver.sounding) == (pulse_in_bar % 12 < 10 or pulse_in_bar // 12 % 3 == 0)
    stage.do("stop")
    assert stage.receiver.sounding == set()
    left = len(stage.records)
    stage.to(60 * SECOND)
    stage.tick()
    assert len(stage.records) == left
    assert stage.receiver.ons == stage.receiver.offs


@pytest.mark.parametrize("pulse_in_bar", range(96))
def test_likewise_by_midi_clock(pulse_in_bar):
    stage = Stage(tempo_bpm=90.0)
    stage.clock(b"\xfa")
    pulse_ns = SECOND / 48
    stage.pulses(12, pulse_ns)
    stage.midi(on(62))
    stage.midi(off(62))
    stage.pulses(2 * 96 - 12 + pulse_in_bar, pulse_ns)
    stage.clock(b"\xf8")
    assert stage.engine.dialogue.is_playing
    stage.clock(b"\xfc")
    assert stage.receiver.sounding == set()
    assert stage.receiver.ons == stage.receiver.offs


@pytest.mark.parametrize("beats", [1.5, 4, 7, 30])
def test_after_a_stall_stale_notes_are_skipped_and_nothing_bursts(beats):
    stage = Stage(tempo_bpm=120.0)
    stage.play(62)
    stage.to_tick(2 * 3840 + 200)
    before = len(stage.struck("answer"))
    assert before == 1
    stage.stall(stage.now_ns + round(beats * SECOND / 2))
    stage.tick()
    assert len(stage.struck("answer")) - before <= 1
    assert len(stage.receiver.sounding) <= 1
    due = stage.engine.transport.tick_at(stage.now_ns) - 2 * 3840
    begun = min(16, due // 480 + 1)
    assert stage.engine.player.skipped + len(stage.struck("answer")) == begun
    stage.to(60 * SECOND)
    assert stage.receiver.sounding == set()
    grid = [at_ns for at_ns, _ in stage.struck("answer")]
    assert all((at_ns - 4 * SECOND) % (SECOND // 4) == 0 for at_ns in grid)


def test_a_little_late_everything_is_played_still():
    stage = Stage(tempo_bpm=120.0)
    stage.play(62)
    stage.to_tick(2 * 3840 - 10)
    for _ in range(85):
        stage.stall(stage.now_ns + 50 * MS)
        stage.tick()
    assert len(stage.struck("answer")) == 16
    assert stage.engine.player.skipped == 0
