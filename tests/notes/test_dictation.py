"""What is dictated sounds at its time, ends by itself or when it is to, and is nobody's playing."""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.clock.units import MAX_TEMPO_BPM, MIN_TEMPO_BPM, TICKS_PER_BEAT
from live.daemon.engine_view import engine_view
from live.notes.config import AnswerConfig
from live.notes.cues import Cue, Trigger, Wish
from live.notes.dictation import (
    FASTEST_BPM,
    SLOWEST_BPM,
    felt_beat_ticks,
    felt_tempo,
    first_tick,
)
from live.notes.events import ANSWER, DICTATION_SOURCE, THROUGH, Dictate
from live.notes.phrase import PhraseNote
from live.notes.record import DICTATED
from live.theory.errors import FieldError
from tests.notes.stage import MS, PULSE, SECOND, START, STOP, Stage, off, on

BEAT = TICKS_PER_BEAT
NOTES = (
    PhraseNote(0, 400, 38, 70),
    PhraseNote(BEAT // 2, 400, 41, 70),
    PhraseNote(3 * BEAT, 2 * BEAT, 45, 85),
)
TEMPO_BPM = 150.0
BEAT_NS = 400 * MS  # a minute has 150 of them
QUIET = 10 * SECOND


def stage(**config) -> Stage:
    return Stage(**{"tempo_bpm": TEMPO_BPM, "start_on_first_note": False, **config})


def dictate(one: Stage, notes=NOTES, wait_beats: float = 0.0) -> None:
    one.feed(Dictate(one.now_ns, notes, wait_beats))


def is_silent(one: Stage) -> bool:
    """Nothing sounds at the receiver, by its own count and by ours."""
    return not one.receiver.sounding and not one.engine.ledger.sounding(ANSWER)


def test_while_the_transport_stands_it_begins_at_once_and_ends_by_itself():
    one = stage()
    one.to(SECOND)
    dictate(one)
    one.to(QUIET)
    begun = [SECOND, SECOND + BEAT_NS // 2, SECOND + 3 * BEAT_NS]
    assert one.struck(ANSWER) == list(zip(begun, (38, 41, 45), strict=True))
    assert one.out(ANSWER)[-1].at_ns == SECOND + 5 * BEAT_NS
    assert is_silent(one)
    assert not one.engine.transport.playing
    assert one.engine.next_due_ns() is None


def test_it_may_wait_for_some_beats():
    one = stage()
    dictate(one, wait_beats=1.0)
    one.to(QUIET)
    assert one.struck(ANSWER)[0][0] == BEAT_NS


@pytest.mark.parametrize(("at_beats", "wait_beats", "begins"), [
    (0.0, 0.0, 0), (0.1, 0.0, 1), (1.0, 0.0, 1), (1.9, 1.0, 3), (2.0, 1.0, 3),
])  # fmt: skip
def test_while_the_transport_plays_it_begins_on_a_beat(at_beats, wait_beats, begins):
    one = stage()
    one.do("start")
    one.to(round(at_beats * BEAT_NS))
    dictate(one, wait_beats=wait_beats)
    one.to(QUIET)
    assert one.struck(ANSWER)[0][0] == begins * BEAT_NS


def test_with_an_outside_clock_it_is_in_its_tempo():
    one = stage(tempo_bpm=100.0)
    one.clock(START)
    one.pulses(24 * 4, 20 * MS)  # 125 BPM
    dictate(one)
    one.pulses(24 * 8, 20 * MS)
    begun = [at_ns for at_ns, _ in one.struck(ANSWER)]
    assert len(begun) == 3
    assert begun[0] % (480 * MS) in range(2 * MS)
    assert begun[2] - begun[0] == pytest.approx(3 * 480 * MS, abs=2 * MS)


@pytest.mark.parametrize(
    ("tempo_bpm", "felt"),
    [(172.0, 172.0), (86.0, 172.0), (100.0, 100.0), (99.0, 198.0), (200.0, 200.0), (201.0, 100.5),
     (20.0, 160.0), (400.0, 200.0)],
)  # fmt: skip
def test_slow_and_fast_tempos_are_felt_in_double_and_half_time(tempo_bpm, felt):
    assert felt_tempo(tempo_bpm) == felt


@given(
    tempo_bpm=st.floats(MIN_TEMPO_BPM, MAX_TEMPO_BPM),
    tick=st.floats(0, 1e6),
    wait_beats=st.floats(0, 4),
)
def test_a_beat_that_is_felt_lies_on_the_grid_and_after_the_wait(tempo_bpm, tick, wait_beats):
    assert SLOWEST_BPM <= felt_tempo(tempo_bpm) <= FASTEST_BPM
    beat_ticks = felt_beat_ticks(tempo_bpm)
    begins = first_tick(tick, wait_beats, tempo_bpm)
    assert beat_ticks in (BEAT // 8, BEAT // 4, BEAT // 2, BEAT, 2 * BEAT)
    assert begins % beat_ticks == 0
    assert -1e-3 <= begins - tick - wait_beats * beat_ticks < beat_ticks + 1e-3


ENDS = {
    "stop": lambda one: one.do("stop"),
    "panic": lambda one: one.do("panic"),
    "release": lambda one: one.do("release"),
    "none": lambda one: dictate(one, ()),
    "outside stop": lambda one: one.clock(STOP),
}


@pytest.mark.parametrize("how", ENDS)
@pytest.mark.parametrize("beats", [0.2, 0.45, 1.5, 3.5, 4.9])
def test_nothing_is_left_sounding_and_nothing_comes_after(how, beats):
    one = stage()
    if how == "outside stop":
        one.clock(START)
        one.clock(PULSE)
    else:
        one.do("start")
    dictate(one)
    one.to(round(beats * BEAT_NS))
    one.tick()
    ENDS[how](one)
    assert is_silent(one)
    struck = one.struck(ANSWER)
    one.to(QUIET)
    assert one.struck(ANSWER) == struck
    assert one.receiver.lone_offs == []


def test_what_began_while_the_transport_stood_is_not_ended_by_it():
    one = stage()
    dictate(one)
    one.to(BEAT_NS)
    one.do("start")
    one.to(2 * BEAT_NS)
    one.do("stop")
    one.to(QUIET)
    assert len(one.struck(ANSWER)) == 3
    assert is_silent(one)


def test_another_one_takes_its_place():
    one = stage()
    dictate(one)
    one.to(4 * BEAT_NS)
    one.tick()
    dictate(one, (PhraseNote(0, BEAT, 50, 80),))
    one.tick()
    assert one.engine.ledger.sounding(ANSWER) == [50]
    one.to(QUIET)
    assert [pitch for _, pitch in one.struck(ANSWER)] == [38, 41, 45, 50]
    assert is_silent(one)


def test_again_plays_it_once_more_from_its_beginning():
    one = stage()
    dictate(one, wait_beats=2.0)
    one.to(6 * BEAT_NS)
    one.tick()
    one.do("again")
    one.to(QUIET)
    assert [pitch for _, pitch in one.struck(ANSWER)] == [38, 41, 45, 38, 41, 45]
    assert one.struck(ANSWER)[3][0] == 6 * BEAT_NS
    assert is_silent(one)


def test_again_is_possible_after_a_panic_and_over_when_nothing_is_dictated():
    one = stage()
    dictate(one)
    one.do("panic")
    one.do("again")
    one.to(one.now_ns + QUIET)
    assert [pitch for _, pitch in one.struck(ANSWER)] == [38, 38, 41, 45]
    dictate(one, ())
    with pytest.raises(FieldError, match="again"):
        one.do("again")


def test_a_pedal_that_says_again_plays_it_again():
    pedal = Cue(Trigger("controller", 20, 20), Wish("again", "again"))
    one = stage(cues=(pedal,))
    dictate(one)
    one.to(QUIET)
    one.midi(bytes((0xB0, 20, 127)))
    one.to(2 * QUIET)
    assert len(one.struck(ANSWER)) == 6


def test_after_a_stall_the_rest_comes_at_its_time_and_nothing_bursts():
    one = stage()
    dictate(one)
    one.stall(2 * BEAT_NS)
    one.tick()
    assert one.struck(ANSWER) == []
    one.to(QUIET)
    assert one.struck(ANSWER) == [(3 * BEAT_NS, 45)]
    assert is_silent(one)


def test_it_is_played_on_the_answers_channel():
    one = stage()
    one.change(answer=AnswerConfig(channel=4))
    dictate(one)
    one.to(QUIET)
    assert {record.data[0] & 0x0F for record in one.out(ANSWER)} == {4}


def test_every_record_of_it_is_marked_and_none_of_the_player():
    one = stage()
    dictate(one)
    one.play(62)
    one.to(4 * BEAT_NS)
    one.do("panic")
    assert {r.detail for r in one.out(ANSWER) if r.data[0] & 0xE0 == 0x80} == {DICTATED}
    assert {record.detail for record in one.out(THROUGH)} == {""}


def test_what_the_player_holds_stays_and_is_seen_while_what_is_dictated_is_not():
    one = stage()
    one.midi(on(62))
    dictate(one)
    one.tick()
    view = engine_view(one.engine, one.now_ns, 0, 0.0)
    assert (view.sounding, view.answer_sounding) == ((62,), ())
    assert one.engine.ledger.sounding(ANSWER) == [38]
    one.to(QUIET)
    assert one.engine.ledger.sounding(THROUGH) == [62]
    one.midi(off(62))
    assert is_silent(one)


@pytest.mark.parametrize("seed", range(12))
def test_whatever_comes_together_every_note_ends_once(seed):
    chance = random.Random(seed)
    one = stage(start_on_first_note=True)
    acts = [
        lambda: dictate(one, NOTES[: chance.randrange(4)], chance.choice([0.0, 1.0])),
        lambda: one.do(chance.choice(["start", "stop", "panic"])),
        lambda: one.do("again") if one.engine.dictation.stands else None,
        lambda: one.play(chance.randrange(40, 70), chance.randrange(300) * MS),
        lambda: one.change(tempo_bpm=chance.uniform(20, 400)),
    ]
    for _ in range(120):
        chance.choice(acts)()
        one.to(one.now_ns + chance.randrange(700) * MS)
    dictate(one, ())
    one.do("release")
    assert is_silent(one)
    assert one.receiver.struck_twice == []
    assert one.receiver.lone_offs == []
    assert len([d for d in one.struck(ANSWER) if d]) > 20
    assert not any(key[0] == DICTATION_SOURCE for key in one.engine.ledger._keys)
