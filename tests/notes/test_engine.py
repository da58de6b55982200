"""The engine as a step: order, time, and what a stage cannot see from outside."""

import json

import pytest

from live.notes.config import EngineConfig
from live.notes.engine import Engine
from live.notes.events import Compose, Do, MidiIn, Tick
from live.notes.form import Form
from live.notes.zones import Zone
from live.theory.keys import parse_key
from live.theory.progressions import parse_progression
from tests.notes.receiver import Receiver
from tests.notes.stage import D_MINOR, MS, SECOND, Stage, off, on

BAR = 3840


def kinds(records):
    return [(r.kind, r.port) for r in records]


def test_what_comes_in_is_told_before_what_leaves():
    stage = Stage()
    assert kinds(stage.midi(on(61))) == [
        ("start", ""), ("in", "keys in"), ("out", "through"), ("moved", ""), ("call", ""),
    ]  # fmt: skip
    assert kinds(stage.midi(off(61))) == [("in", "keys in"), ("out", "through")]
    assert stage.records[1].data == on(61)


def test_what_is_due_is_done_before_the_event_at_its_own_time():
    stage = Stage(tempo_bpm=120.0)
    stage.play(62)
    stage.to_tick(2 * BAR - 1)
    stage.stall(stage.now_ns + 100 * MS)
    made = stage.midi(on(62))
    assert kinds(made)[:2] == [("answer", ""), ("out", "answer")]
    assert made[0].at_ns == made[1].at_ns == 4 * SECOND
    assert kinds(made)[-2:] == [("in", "keys in"), ("out", "through")]


def test_it_says_when_it_wants_to_be_called():
    engine = Engine(EngineConfig(D_MINOR, tempo_bpm=120.0))
    assert engine.next_due_ns() is None
    engine.step(Do(SECOND, "start"))
    assert engine.next_due_ns() == 3 * SECOND  # the look at the call of bars 0 and 1
    assert engine.step(Tick(3 * SECOND - 1)) == []
    assert engine.next_due_ns() == 3 * SECOND
    engine.step(Do(4 * SECOND, "stop"))
    assert engine.next_due_ns() is None


def test_it_wants_to_be_called_when_a_clock_or_an_input_may_be_gone():
    stage = Stage()
    stage.clock(b"\xf8")
    assert stage.engine.next_due_ns() == 500 * MS + 1
    stage.midi(b"\xfe")
    assert stage.engine.next_due_ns() == 350 * MS


def test_after_it_did_what_was_due_it_wants_nothing_at_that_time():
    stage = Stage(tempo_bpm=171.3, form=Form(1, 1))
    stage.play(62)
    for _ in range(200):
        due_ns = stage.engine.next_due_ns()
        stage.to(due_ns)
        stage.tick()
        following = stage.engine.next_due_ns()
        if following is None:
            break
        assert following > due_ns
    assert not stage.engine.transport.playing


def test_the_same_events_give_the_same_outputs():
    def run():
        stage = Stage(tempo_bpm=168.0)
        for pitch in (61, 62, 66, 70):
            stage.play(pitch)
        stage.do("panic")
        stage.to(10 * SECOND)
        stage.do("again")
        stage.to(20 * SECOND)
        return stage.records, stage.requests

    assert run() == run()


@pytest.mark.parametrize("start_on_first_note", [True, False])
def test_with_the_transport_stopped_playing_works_all_the_same(start_on_first_note):
    stage = Stage(start_on_first_note=start_on_first_note)
    stage.midi(on(61))
    stage.midi(off(61))
    assert [r.data for r in stage.out("through")] == [on(60), off(60)]
    assert stage.engine.transport.playing == start_on_first_note


@pytest.mark.parametrize(
    ("data", "zones"),
    [
        (on(36, channel=9), ()),
        (on(40), (Zone("low", "plain", high=48),)),
        (off(62), ()),
        (on(62, 0), ()),
    ],
)
def test_only_a_note_of_a_call_zone_starts_the_transport(data, zones):
    stage = Stage(zones=zones)
    stage.midi(data)
    assert not stage.engine.transport.playing


def test_a_muted_note_starts_it_and_is_no_call():
    stage = Stage(snap="mute")
    stage.midi(on(61))
    assert stage.engine.transport.playing
    assert stage.out("through") == []
    assert stage.facts("call") == []


def test_a_note_waits_for_an_outside_clock_that_is_there_but_stopped():
    stage = Stage()
    stage.pulses(48, SECOND / 48)
    stage.midi(on(62))
    assert not stage.engine.transport.playing
    assert [r.data for r in stage.out("through")] == [on(62)]
    stage.midi(off(62))
    stage.to(stage.now_ns + 2 * SECOND)  # the clock has gone
    stage.midi(on(62))
    assert stage.engine.transport.playing
    assert not stage.engine.transport.following


@pytest.mark.parametrize(
    "lone",
    [b"\xfc", b"\xfb", b"\xfa", b"\xf2\x00\x00"],
    ids=("stop", "continue", "start", "position"),
)
def test_a_lone_transport_message_without_a_clock_does_not_block_notes_for_ever(lone):
    stage = Stage()
    stage.clock(lone)
    stage.to(2 * SECOND)
    stage.midi(on(62))
    assert stage.engine.transport.playing


def test_the_chord_that_sounds_is_followed_bar_by_bar():
    progression = parse_progression("i VI iv v", D_MINOR)
    stage = Stage(tempo_bpm=120.0, snap="chord", progression=progression)
    stage.do("start")
    chords = []
    for bar in range(4):
        stage.to_tick(bar * BAR)  # exactly on the bar line: the new chord
        chords.append(stage.engine.chord_now(stage.now_ns).name)
        stage.play(72)
    assert chords == ["Dm", "Bb", "Gm", "Am"]
    assert [pitch for _, pitch in stage.struck("through")] == [74, 70, 70, 72]
    stage.change(progression=None)
    assert stage.engine.chord_now(stage.now_ns) is None
    stage.play(73)
    assert stage.struck("through")[-1][1] == 74


def test_an_input_that_has_gone_lets_go_of_its_own_keys_only():
    stage = Stage()
    stage.midi(on(62), source=0)
    stage.midi(on(65), source=1)
    assert [r.data for r in stage.lose(1)] == [off(65)]
    assert {note for _, _, note in stage.receiver.sounding} == {62}
    assert stage.lose(1) == []


def test_release_before_the_end_stops_and_lets_everything_go():
    stage = Stage(tempo_bpm=120.0)
    for pitch in (62, 65, 69):
        stage.midi(on(pitch))
    stage.to_tick(2 * BAR + 100)
    assert len(stage.receiver.sounding) == 4
    made = stage.do("release")
    assert stage.receiver.sounding == set()
    assert not stage.engine.transport.playing
    assert ("stop", "") in kinds(made)


def test_panic_ends_notes_first_and_then_silences_both_outputs():
    # Failure studies 3.7: never rely on all notes off alone.
    stage = Stage(tempo_bpm=120.0)
    stage.midi(on(62))
    stage.to_tick(2 * BAR + 100)
    made = stage.do("panic")
    outs = [r for r in made if r.kind == "out"]
    assert [r.data[0] & 0xF0 for r in outs[:2]] == [0x80, 0x80]
    assert [r.port for r in outs[2:]] == ["through"] * 80 + ["answer"] * 80
    assert made[-1].kind == "panic"
    assert stage.receiver.sounding == set()
    assert stage.engine.panics == 1
    assert stage.engine.transport.playing  # it is the notes that are wrong, not the place
    stage.to_tick(4 * BAR)
    assert len(stage.out("answer")) == 2 + 80  # the rest of this answer stays silent
    assert stage.midi(off(62))[-1].data == off(62)  # the key comes up at last: harmless


def test_after_a_panic_the_next_round_is_answered():
    stage = Stage(tempo_bpm=120.0)
    stage.play(62)
    stage.to_tick(2 * BAR + 100)
    stage.do("panic")
    stage.to_tick(4 * BAR + 100)
    stage.play(62)
    stage.to_tick(8 * BAR)
    assert len(stage.struck("answer")) == 1 + 16


def test_panic_with_nothing_sounding_still_tells_the_other_side():
    stage = Stage()
    assert len([r for r in stage.do("panic") if r.kind == "out"]) == 160


def test_a_key_held_over_a_change_of_everything_ends_the_note_that_sounds():
    stage = Stage()
    stage.midi(on(61))
    stage.change(
        key=parse_key("F# major"),
        snap="white",
        zones=(Zone(transpose=12, out_channel=7),),
        form=Form(1, 1),
    )
    assert stage.midi(off(61))[-1].data == off(60)
    assert stage.receiver.sounding == set()


def test_reset_ends_every_note_everywhere():
    stage = Stage(tempo_bpm=120.0)
    stage.midi(on(62))
    stage.to_tick(2 * BAR + 100)
    made = stage.midi(b"\xff")
    assert kinds(made)[0] == ("in", "keys in")
    assert made[-1].data == b"\xff"
    assert stage.receiver.sounding == set()


def test_the_computer_keyboard_is_an_input_like_any_other():
    stage = Stage()
    stage.midi(on(61), source=90)
    stage.midi(off(61), source=90)
    assert [r.data for r in stage.out("through")] == [on(60), off(60)]
    assert stage.requests == []


def test_a_whole_dialogue_is_what_a_player_expects():
    """Two rounds in D minor at 168: every figure here is worked out by hand."""
    stage = Stage(tempo_bpm=168.0)
    bar_s = 4 * 60 / 168
    for at_s, pitch in ((0.0, 62), (0.7, 66), (1.5, 69), (4 * bar_s - 0.02, 65)):
        stage.to(round(at_s * 1e9))
        stage.play(pitch)
    stage.to(round(7.9 * bar_s * 1e9))
    assert [f["bar"] for f in stage.facts("call")] == [0, 4]
    assert [f["bar"] for f in stage.facts("answer")] == [2, 6]
    assert [round(at_ns / 1e9, 6) for at_ns in stage.times("answer")] == [
        round(2 * bar_s, 6), round(6 * bar_s, 6),
    ]  # fmt: skip
    assert json.loads(stage.records[0].detail) == {
        "bar": 0, "beat": 0.0, "tempo": 168.0, "metre": "4/4",
    }  # fmt: skip
    moved = stage.facts("moved")
    assert moved == [{"pressed": 66, "sounding": 67}]  # F# between F and G, moving up
    assert [n.pitch for n in stage.requests[1].brief.call.notes] == [62, 67, 69]


def test_the_composer_is_asked_in_the_order_of_the_outputs():
    engine = Engine(EngineConfig(D_MINOR, tempo_bpm=120.0))
    engine.step(MidiIn(0, 0, on(62)))
    made = engine.step(Tick(4 * SECOND))  # a stall over look, cutoff and bar line
    assert [type(output) is Compose for output in made] == [True, True, False]
    assert made[2].kind == "late"


@pytest.mark.parametrize("deaf", [True, False])
def test_mode_messages_and_two_keyboards_leave_nothing(deaf):
    stage = Stage()
    receiver = Receiver(deaf=deaf)
    for source, data in (
        (0, on(60)), (1, on(61)), (0, b"\xb0\x7b\x00"), (1, off(61)), (0, off(60)), (0, on(60)),
        (1, on(60)), (1, b"\xb0\x78\x00"), (0, off(60)), (1, off(60)),
    ):  # fmt: skip
        for record in stage.midi(data, source):
            receiver.hear(record)
    assert receiver.sounding == set()


@pytest.mark.parametrize("pedal", [64, 66])
def test_a_pedal_that_a_lost_input_held_comes_up(pedal):
    # The note's end alone would leave it sounding at the receiver (MIDI 1.0, hold pedal).
    stage = Stage()
    stage.midi(on(62))
    stage.midi(bytes((0xB0, pedal, 127)))
    assert [r.data for r in stage.lose(0)] == [off(62), bytes((0xB0, pedal, 0))]
    assert stage.lose(0) == []


@pytest.mark.parametrize(
    ("held", "rest"),
    [
        (b"\xe0\x00\x7f", b"\xe0\x00\x40"),
        (b"\xd0\x60", b"\xd0\x00"),
        (b"\xb0\x01\x60", b"\xb0\x01\x00"),
    ],
)
def test_a_bend_a_wheel_and_pressure_that_a_lost_input_held_go_to_rest(held, rest):
    # Else the instrument stays out of tune for whoever plays on (rest: RP-015).
    stage = Stage()
    stage.midi(on(62))
    stage.midi(held)
    assert [r.data for r in stage.lose(0)] == [off(62), rest]
    assert stage.lose(0) == []


def test_a_bend_that_another_input_moved_since_stays():
    stage = Stage()
    stage.midi(b"\xe0\x00\x7f", source=0)
    stage.midi(b"\xe0\x00\x20", source=1)
    assert stage.lose(0) == []
    assert [r.data for r in stage.lose(1)] == [b"\xe0\x00\x40"]


def test_a_pedal_that_another_input_holds_too_stays_down():
    stage = Stage()
    stage.midi(b"\xb0\x40\x7f", source=0)
    stage.midi(b"\xb0\x40\x7f", source=1)
    assert stage.lose(0) == []
    assert [r.data for r in stage.lose(1)] == [b"\xb0\x40\x00"]


def test_quitting_lifts_every_pedal():
    stage = Stage()
    stage.midi(b"\xb3\x40\x7f")
    assert [r.data for r in stage.do("release") if r.kind == "out"] == [b"\xb3\x40\x00"]


def test_an_input_that_fell_silent_lifts_its_pedal():
    stage = Stage()
    stage.midi(b"\xfe")
    stage.midi(b"\xb0\x40\x7f")
    stage.to(stage.now_ns + SECOND)
    assert [r.data for r in stage.out("through")][-1] == b"\xb0\x40\x00"
