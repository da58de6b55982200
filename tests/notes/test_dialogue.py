"""Answers: what is asked, what plays, and what the player may do about it."""

import dataclasses

import pytest

from live.clock.metre import Metre
from live.notes.config import AnswerConfig
from live.notes.events import Composed
from live.notes.form import Form
from live.notes.kept import kept_from_data
from live.notes.phrase import PhraseNote
from live.notes.taste import Taste
from live.theory.errors import FieldError
from live.theory.keys import parse_key
from tests.notes.stage import MS, Stage, bass, off, on

BAR = 3840
SIXTEEN = 16  # notes of a 2-bar answer of `bass`


def answered(**config):
    """An engine at 120 BPM: a call at bar 0, and we stand in the middle of the answer's bar 2."""
    stage = Stage(tempo_bpm=120.0, **config)
    stage.play(62)
    stage.to_tick(2 * BAR + 1700)
    assert stage.engine.dialogue.is_playing
    return stage


def ranks(stage):
    """Rank of the choice every answer note came from (`bass` puts it in the velocity)."""
    return [r.data[2] - 80 for r in stage.out("answer") if r.data[0] & 0xF0 == 0x90]


def pitches(stage, from_bar=0):
    from_ns = stage.engine.transport.ns_at(from_bar * BAR)
    return [pitch for at_ns, pitch in stage.struck("answer") if at_ns >= from_ns]


def kept(stage):
    """(number, choice) of each answer that was kept; the phrase must be that choice's notes."""
    for told in stage.facts("kept"):
        phrase = kept_from_data(told["phrase"])
        briefs = [request.brief for request in stage.requests]
        choices = [bass(brief)[told["choice"] - 1] for brief in briefs]
        assert phrase.notes in [choice.notes for choice in choices]
    return [(told["number"], told["choice"]) for told in stage.facts("kept")]


def test_the_state_in_a_word():
    stage = Stage(tempo_bpm=120.0, delay_ns=50 * MS)
    assert stage.state == "idle"
    stage.midi(on(62))
    assert stage.state == "listening"
    stage.to_tick(BAR)
    assert stage.state == "composing"
    stage.to(stage.now_ns + 60 * MS)
    assert stage.state == "ready"
    stage.to_tick(2 * BAR)
    assert stage.state == "playing"
    stage.do("hold")
    assert stage.state == "held"
    stage.to_tick(4 * BAR)
    assert stage.state == "held"
    stage.do("hold")
    assert stage.state == "idle"


def test_again_brings_another_answer_at_the_next_bar_line_only():
    stage = answered()
    before = pitches(stage)
    stage.do("again")
    assert len(stage.requests) == 3
    assert stage.requests[-1].brief.call == stage.requests[-2].brief.call
    assert stage.requests[-1].brief.seed == stage.requests[-2].brief.seed + 1
    stage.to_tick(3 * BAR - 1)
    first, other = (bass(stage.requests[n].brief)[0].notes for n in (-2, -1))
    assert pitches(stage) == [n.pitch for n in first[:8]]
    assert pitches(stage)[: len(before)] == before
    stage.to_tick(4 * BAR)
    assert pitches(stage)[8:] == [n.pitch for n in other[8:]]
    assert pitches(stage)[8:] != [n.pitch for n in first[8:]]
    assert stage.receiver.sounding == set()
    assert stage.receiver.struck_twice == []


def test_a_note_over_the_bar_line_is_cut_by_the_swap():
    def drone_first(brief):
        first, *others = bass(brief)
        return (dataclasses.replace(first, notes=(PhraseNote(0, 7680, 38, 81),)), *others)

    stage = answered(compose=drone_first)
    stage.do("choose", 2)
    stage.to_tick(4 * BAR)
    bar_line = stage.engine.transport.ns_at(3 * BAR)
    left = [(r.at_ns, r.data[0] & 0xF0, r.data[1]) for r in stage.out("answer")]
    assert left[1][:2] == (bar_line, 0x80)
    assert left[1][2] == 38
    assert left[2][:2] == (bar_line, 0x90)
    assert stage.receiver.ons == stage.receiver.offs


def test_a_note_begun_before_the_bar_line_is_not_begun_by_a_swap():
    def drone_second(brief):
        first, second, third = bass(brief)
        return first, dataclasses.replace(second, notes=(PhraseNote(0, 7680, 38, 82),)), third

    stage = answered(compose=drone_second)
    stage.do("choose", 2)
    stage.to_tick(4 * BAR)
    assert ranks(stage) == [1] * 8


@pytest.mark.parametrize("rank", [2, 3])
def test_choosing_swaps_at_the_next_bar_line_only(rank):
    stage = answered()
    stage.do("choose", rank)
    stage.to_tick(4 * BAR)
    assert ranks(stage) == [1] * 8 + [rank] * 8
    assert stage.engine.dialogue.offer.chosen == rank


def test_choosing_twice_in_a_bar_the_last_one_counts_and_one_may_change_back():
    stage = answered()
    stage.do("choose", 3)
    stage.do("choose", 2)
    stage.to_tick(3 * BAR + 10)
    assert ranks(stage) == [1] * 8 + [2]
    stage.do("choose", 1)
    stage.to_tick(4 * BAR)
    assert ranks(stage) == [1] * 8 + [2] * 8  # there is no bar line left in this answer


def test_exactly_on_a_bar_line_the_next_one_is_waited_for():
    stage = answered(form=Form(2, 4), metre=Metre(3, 4))
    line = 2880
    stage.to_tick(3 * line)
    stage.do("choose", 2)
    stage.to_tick(6 * line)
    assert ranks(stage) == [1] * 12 + [2] * 12


def test_a_choice_in_the_last_bar_is_the_next_answer_if_nothing_new_is_called():
    stage = answered()
    stage.to_tick(3 * BAR + 100)
    stage.do("choose", 2)
    assert stage.engine.dialogue.offer.fresh
    stage.to_tick(8 * BAR)
    assert ranks(stage) == [1] * SIXTEEN + [2] * SIXTEEN
    stage = answered()
    stage.to_tick(3 * BAR + 100)
    stage.do("choose", 2)
    stage.to_tick(4 * BAR + 100)
    stage.play(69)
    stage.to_tick(8 * BAR)
    assert ranks(stage) == [1] * SIXTEEN * 2  # a new call has new answers


def test_again_after_the_answer_is_the_next_answer():
    stage = answered()
    stage.to_tick(4 * BAR + 100)
    stage.do("again")
    assert stage.state == "ready"
    stage.to_tick(8 * BAR)
    assert len(pitches(stage)) == 2 * SIXTEEN
    assert stage.facts("answer")[1]["bar"] == 6


def test_a_wish_that_comes_back_after_the_bar_line_still_counts():
    stage = Stage(tempo_bpm=120.0)
    stage.play(62)
    stage.to_tick(2 * BAR - 100)
    stage.delay_ns = 300 * MS
    stage.do("again")
    stage.to_tick(4 * BAR)
    other = bass(stage.requests[-1].brief)[0].notes
    assert pitches(stage)[8:] == [n.pitch for n in other[8:]]
    assert stage.engine.dialogue.late == 0


def test_again_uses_the_settings_of_now():
    stage = answered()
    f_sharp = parse_key("F# major")
    stage.change(key=f_sharp, answer=AnswerConfig(low=40, high=60))
    stage.do("again")
    brief = stage.requests[-1].brief
    assert (brief.key, brief.low, brief.high) == (f_sharp, 40, 60)


def test_more_asks_for_answers_like_the_chosen_one():
    stage = answered()
    stage.do("choose", 2)
    chosen = bass(stage.requests[-1].brief)[1]
    stage.do("more")
    brief = stage.requests[-1].brief
    assert brief.like == chosen.notes
    assert brief.call == stage.requests[-2].brief.call
    assert brief.seed == stage.requests[-2].brief.seed + 1
    stage.do("again")  # somewhere new again
    assert stage.requests[-1].brief.like == ()


def test_another_control_of_the_answer_is_heard_from_the_next_bar_line_on():
    stage = answered()
    before = stage.requests[-1].brief
    asked = len(stage.requests)
    stage.change(answer=AnswerConfig(low=40, high=60, taste=Taste(density=1.0)))
    assert len(stage.requests) == asked + 1
    brief = stage.requests[-1].brief
    assert (brief.call, brief.seed) == (before.call, before.seed)
    assert (brief.low, brief.taste.density) == (40, 1.0)
    stage.to_tick(4 * BAR)
    assert pitches(stage, 3) == [n.pitch for n in bass(brief)[0].notes[8:]]


def test_other_settings_ask_for_nothing_and_a_held_answer_stays():
    stage = answered()
    asked = len(stage.requests)
    stage.change(snap="chord")
    assert len(stage.requests) == asked
    stage.do("hold")
    stage.change(answer=AnswerConfig(taste=Taste(density=0.0)))
    assert len(stage.requests) == asked
    fresh = Stage()
    fresh.change(answer=AnswerConfig(taste=Taste(density=0.0)))  # nothing to answer yet
    assert fresh.requests == []


@pytest.mark.parametrize("name", ["F# major", "Eb dorian", "C major pentatonic"])
def test_after_a_change_of_key_the_answer_goes_on_in_the_new_one(name):
    stage = answered()
    key = parse_key(name)
    stage.change(key=key)
    changed_ns = stage.now_ns
    stage.to_tick(4 * BAR)
    late = [pitch for at_ns, pitch in stage.struck("answer") if at_ns > changed_ns]
    assert len(late) == 12
    assert all(pitch % 12 in key.pitch_classes for pitch in late)
    assert stage.receiver.ons == stage.receiver.offs
    assert stage.receiver.sounding == set()


def test_keeping_names_the_answer_and_the_choice():
    stage = answered()
    stage.do("choose", 2)
    stage.do("keep")
    assert kept(stage) == [(1, 2)]
    stage.to_tick(4 * BAR + 100)
    stage.play(65)
    stage.to_tick(5 * BAR + 1900)
    assert stage.state == "ready"  # the second answer is there, and not played yet
    stage.do("keep")
    assert kept(stage)[-1] == (2, 1)


def test_a_held_answer_comes_back_every_round_and_no_new_one_is_asked_for():
    stage = answered()
    stage.do("hold")
    asked = len(stage.requests)
    first = pitches(stage)
    stage.to_tick(4 * BAR + 100)
    stage.play(69)
    stage.to_tick(12 * BAR)
    assert len(stage.requests) == asked
    every = pitches(stage)
    assert every[:SIXTEEN] * 3 == every
    assert every[: len(first)] == first
    assert [f["number"] for f in stage.facts("answer")] == [1, 2, 3]
    stage.do("keep")
    assert kept(stage) == [(3, 1)]
    assert stage.engine.dialogue.late == 0
    stage.do("hold")
    stage.to_tick(16 * BAR)
    assert len(pitches(stage)) == 3 * SIXTEEN


def test_holding_before_there_is_an_answer_holds_the_first_one():
    stage = Stage(tempo_bpm=120.0)
    stage.do("hold")
    stage.play(62)
    stage.to_tick(8 * BAR)
    assert len(pitches(stage)) == 2 * SIXTEEN
    assert stage.engine.dialogue.late == 0


def test_holding_in_the_next_call_keeps_the_answer_that_was_heard():
    stage = answered(delay_ns=100 * MS)
    heard = pitches(stage)[0]
    stage.to_tick(4 * BAR + 100)
    stage.play(69)
    stage.to_tick(5 * BAR + 10)
    assert stage.state == "composing"
    stage.do("hold")
    stage.to_tick(8 * BAR)
    assert pitches(stage)[SIXTEEN:] == pitches(stage)[:SIXTEEN]
    assert pitches(stage)[0] == heard


def test_choosing_and_again_change_a_held_answer():
    stage = answered()
    stage.do("hold")
    stage.do("choose", 2)
    stage.to_tick(6 * BAR + 100)
    assert ranks(stage)[-1] == 2
    stage.do("again")
    stage.to_tick(8 * BAR)
    other = bass(stage.requests[-1].brief)[0].notes
    assert pitches(stage)[-8:] == [n.pitch for n in other[8:]]


def test_a_held_answer_longer_than_the_form_is_cut_to_it():
    stage = answered(form=Form(2, 4))
    stage.do("hold")
    stage.change(form=Form(1, 1))
    at = stage.engine.transport.tick_at(stage.now_ns)
    stage.to_tick(at + 4 * BAR)
    for fact in stage.facts("answer")[1:]:
        assert fact["bar"] % 2 == 1
    ends = [stage.engine.transport.tick_at(at_ns) for at_ns in stage.times("answer_end")[1:]]
    assert ends
    assert all(tick % (2 * BAR) == 0 for tick in ends)
    assert stage.receiver.struck_twice == []


def test_with_the_answer_switched_off_nothing_is_asked_or_played():
    stage = Stage(tempo_bpm=120.0, answer=AnswerConfig(enabled=False))
    stage.play(62)
    stage.to_tick(8 * BAR)
    assert stage.requests == []
    assert stage.out("answer") == []
    assert stage.facts("late") == []
    assert len(stage.facts("call")) == 1


def test_switching_the_answer_off_ends_it_at_once():
    stage = answered()
    stage.to_tick(2 * BAR + 2000)
    assert len(stage.receiver.sounding) == 1
    stage.change(answer=AnswerConfig(enabled=False))
    assert stage.receiver.sounding == set()
    assert not stage.engine.dialogue.is_playing
    left = len(stage.out("answer"))
    stage.do("hold")
    stage.to_tick(12 * BAR)
    assert len(stage.out("answer")) == left


def test_another_form_begins_a_new_round_where_we_are():
    stage = answered()
    stage.change(form=Form(1, 1))
    assert stage.receiver.sounding == set()
    assert len(stage.times("answer_end")) == 1
    stage.to_tick(4 * BAR + 100)
    stage.play(69)
    stage.to_tick(6 * BAR)
    assert [f["bar"] for f in stage.facts("call")] == [0, 4]
    assert [f["bar"] for f in stage.facts("answer")] == [2, 5]


def test_another_form_while_we_stand_still_is_there_at_the_start():
    stage = Stage(tempo_bpm=120.0)
    stage.change(form=Form(1, 1), metre=Metre(3, 4))
    stage.play(62)
    stage.to_tick(2 * 2880)
    assert stage.struck("answer")[0][0] == 1500 * MS


def test_other_settings_leave_the_answer_alone():
    stage = answered()
    stage.change(snap="up", start_on_first_note=False)
    stage.to_tick(4 * BAR)
    assert len(pitches(stage)) == SIXTEEN


def test_the_answer_s_channel_may_change_while_a_note_sounds():
    stage = Stage(tempo_bpm=120.0)
    stage.play(62)
    stage.to_tick(2 * BAR + 100)
    stage.change(answer=AnswerConfig(channel=5))
    stage.to_tick(4 * BAR)
    channels = [r.data[0] for r in stage.out("answer")][:4]
    assert channels == [0x90, 0x80, 0x95, 0x85]
    assert stage.receiver.sounding == set()


def test_a_stop_forgets_what_was_ready_but_not_the_choices():
    stage = Stage(tempo_bpm=120.0)
    stage.play(62)
    stage.to_tick(BAR + 10)
    assert stage.state == "ready"
    stage.do("stop")
    assert stage.state == "idle"
    stage.do("start")
    stage.to_tick(4 * BAR)
    assert pitches(stage) == []
    assert stage.engine.dialogue.offer.chosen == 1
    stage.do("choose", 2)  # but the player may still ask for one
    stage.to_tick(8 * BAR)
    assert ranks(stage) == [2] * SIXTEEN


def test_what_was_being_composed_at_a_stop_is_not_played_after_the_next_start():
    stage = Stage(tempo_bpm=120.0, delay_ns=500 * MS)
    stage.play(62)
    stage.to_tick(BAR + 10)
    stage.do("stop")
    stage.do("start")
    stage.to_tick(4 * BAR)
    assert pitches(stage) == []


def test_an_unknown_result_is_ignored():
    stage = answered()
    stage.feed(Composed(stage.now_ns, 999, ()))
    assert stage.state == "playing"


@pytest.mark.parametrize(
    ("action", "value", "allowed"),
    [
        ("again", 0, "after a first call"),
        ("more", 0, "once there is an answer"),
        ("keep", 0, "once there is an answer"),
        ("choose", 1, "once there are choices"),
    ],
)
def test_what_cannot_be_done_yet_is_refused(action, value, allowed):
    stage = Stage(tempo_bpm=120.0)
    stage.midi(on(62))
    with pytest.raises(FieldError) as refused:
        stage.do(action, value)
    assert refused.value.field == action
    assert refused.value.allowed == allowed


@pytest.mark.parametrize("rank", [0, 4, -1])
def test_a_choice_that_is_not_there_is_refused_with_its_range(rank):
    with pytest.raises(FieldError, match="1 to 3"):
        answered().do("choose", rank)


def test_a_refusal_leaves_everything_as_it_was_even_what_is_due():
    """The step that refuses does nothing: what was due is done by the next one."""
    stage = Stage(tempo_bpm=120.0)
    stage.play(62)
    stage.to_tick(2 * BAR + 390)  # a note sounds and is due to end in 10 or 90 ticks
    sounding = set(stage.receiver.sounding)
    assert len(sounding) == 1
    stage.stall(stage.now_ns + 60 * MS)
    records, queued = len(stage.records), len(stage.engine.due)
    with pytest.raises(FieldError):
        stage.do("choose", 9)
    assert (len(stage.records), len(stage.engine.due)) == (records, queued)
    assert stage.receiver.sounding == sounding
    stage.tick()
    assert stage.receiver.sounding != sounding
    stage.midi(off(1))
    stage.to_tick(4 * BAR)
    assert stage.receiver.sounding == set()
    assert stage.receiver.ons == stage.receiver.offs
