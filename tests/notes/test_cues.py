"""Cues: which messages are taken, what they do at once, and what is told of them.

Source of the threshold: MIDI 1.0 Detailed Specification 4.2.1, switches: 0 to 63 off, 64 to 127 on.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.notes.cues import ABSORBED, Cue, CueWatch, Trigger, Wish
from live.notes.events import Learn
from live.notes.form import Form
from live.notes.routes import Route
from live.notes.song import Section, Song
from live.notes.zones import Zone
from live.theory.errors import FieldError
from live.theory.keys import parse_key
from tests.notes.stage import D_MINOR, Stage, off, on

BAR = 3840
F_MAJOR = parse_key("F major")
TO_F = Wish("key F major", changes=(("key", F_MAJOR),))
PANIC = Wish("panic", action="panic")
TONIC = Wish("tonic", tonic=True)
NOTE = Trigger("note", 24, 24)
RANGE = Trigger("note", 12, 23)
WHEEL = Trigger("controller", 20, 20)
PEDAL = Trigger("controller", 64, 64)
PROGRAM = Trigger("program", 3, 3)


def control(value, controller=20, channel=0):
    return bytes((0xB0 | channel, controller, value))


def watching(*cues):
    watch = CueWatch()
    watch.configure(cues)
    return watch


def staged(*cues, **config):
    return Stage(cues=cues, start_on_first_note=False, **config)


def test_without_cues_nothing_need_be_asked():
    watch = CueWatch()
    assert not watch.on
    watch.configure((Cue(NOTE, PANIC),))
    assert watch.on
    watch.configure(())
    assert not watch.on


@given(st.integers(0x80, 0xFF), st.integers(0, 127), st.integers(0, 127))
def test_a_message_that_is_no_cue_is_not_taken(status, first, second):
    two = status & 0xF0 in (0xC0, 0xD0)
    message = bytes((status, first, second))[: 1 if status >= 0xF0 else 3 - two]
    assert watching(Cue(Trigger("note", 0, 127, 15), PANIC)).hear(0, message) is None or (
        status == 0x9F and second
    )


@pytest.mark.parametrize("channel", range(16))
def test_a_cue_without_a_channel_is_on_every_channel(channel):
    assert watching(Cue(NOTE, PANIC)).hear(0, on(24, channel=channel)).wish == PANIC


def test_a_cue_of_a_channel_is_on_that_one_only():
    watch = watching(Cue(Trigger("note", 24, 24, 5), PANIC))
    assert watch.hear(0, on(24, channel=5)).wish == PANIC
    assert watch.hear(0, on(24, channel=4)) is None


def test_the_end_of_a_cue_s_note_is_taken_with_it():
    watch = watching(Cue(NOTE, PANIC))
    watch.hear(0, on(24))
    assert watch.hear(1, off(24)) is None
    assert watch.hear(0, b"\xa0\x18\x40") == ABSORBED
    assert watch.hear(0, b"\x90\x18\x00") == ABSORBED
    assert watch.hear(0, off(24)) is None


def test_the_first_cue_that_fits_is_the_one():
    watch = watching(Cue(NOTE, PANIC), Cue(Trigger("note", 0, 127), TO_F))
    assert watch.hear(0, on(24)).wish == PANIC
    assert watch.hear(0, on(25)).wish == TO_F


@given(st.lists(st.integers(0, 127), max_size=40))
def test_a_controller_gives_its_command_once_each_time_it_comes_up(values):
    watch = watching(Cue(WHEEL, PANIC))
    given_ = [watch.hear(0, control(value)).wish for value in values]
    rises = [b >= 64 > a for a, b in zip([0, *values], values, strict=False)]
    assert [wish is not None for wish in given_] == rises


def test_inputs_and_channels_have_controllers_of_their_own():
    watch = watching(Cue(WHEEL, PANIC))
    where = ((0, 0), (1, 0), (0, 1))
    assert all(watch.hear(source, control(127, channel=ch)).wish for source, ch in where)


def test_programs():
    watch = watching(Cue(PROGRAM, PANIC))
    assert watch.hear(0, b"\xc0\x03").wish == PANIC
    assert watch.hear(0, b"\xc0\x03").wish == PANIC
    assert watch.hear(0, b"\xc0\x04") is None


@pytest.mark.parametrize("left", [(), (Cue(PROGRAM, PANIC),)])
def test_what_is_down_when_the_cues_change_still_ends_unheard(left):
    watch = watching(Cue(NOTE, PANIC), Cue(WHEEL, PANIC))
    watch.hear(0, on(24))
    watch.hear(0, control(127))
    watch.configure(left)
    assert watch.on
    assert watch.hear(0, off(24)) == ABSORBED
    assert watch.hear(0, control(90)) == ABSORBED
    assert watch.hear(0, control(10)) == ABSORBED
    assert watch.hear(0, control(127)) is None
    assert watch.on == bool(left)


def test_a_key_struck_again_after_its_cue_has_gone_is_heard_to_its_end():
    watch = watching(Cue(NOTE, PANIC))
    watch.hear(0, on(24))  # its note-off never comes
    watch.configure(())
    assert watch.hear(0, on(24)) is None
    assert watch.hear(0, off(24)) is None


def test_a_lost_input_has_nothing_down():
    watch = watching(Cue(NOTE, PANIC), Cue(WHEEL, PANIC))
    watch.hear(0, on(24))
    watch.hear(0, control(127))
    watch.forget(0)
    assert watch.hear(0, off(24)) is None
    assert watch.hear(0, control(127)).wish == PANIC


@pytest.mark.parametrize(
    ("trigger", "words"),
    [
        (NOTE, "note C1"),
        (RANGE, "notes C0:B0"),
        (WHEEL, "controller 20"),
        (PEDAL, "pedal"),
        (PROGRAM, "program 3"),
    ],
)
def test_a_trigger_in_words(trigger, words):
    assert str(trigger) == words


@pytest.mark.parametrize("args", [("controller", 120, 120), ("note", 5, 4), ("program", 0, 128)])
def test_triggers_are_checked(args):
    with pytest.raises(FieldError, match=f"cue {args[0]}"):
        Trigger(*args)


# Learning


@pytest.mark.parametrize(
    ("data", "trigger"),
    [
        (on(24, channel=2), Trigger("note", 24, 24, 2)),
        (control(80, 7), Trigger("controller", 7, 7, 0)),
        (control(127, 64), Trigger("controller", 64, 64, 0)),
        (b"\xc5\x09", Trigger("program", 9, 9, 5)),
    ],
)
def test_the_next_message_that_can_be_a_cue_becomes_it_and_does_nothing_yet(data, trigger):
    watch = CueWatch()
    watch.learn(TO_F)
    assert watch.hear(0, off(60)) is None
    assert watch.hear(0, control(10, 7)) is None
    assert watch.hear(0, control(0, 123)) is None
    assert watch.hear(0, b"\xe0\x00\x40") is None
    heard = watch.hear(0, data)
    assert heard == (None, Cue(trigger, TO_F))
    assert watch.hear(1, on(30)) is None  # it has learned


def test_a_controller_on_its_way_down_is_not_learned():
    watch = CueWatch()
    watch.learn(TO_F)
    assert watch.hear(0, control(40)) is None
    assert watch.hear(0, control(100)).learned is not None
    watch = CueWatch()
    watch.learn(TO_F)
    assert watch.hear(0, control(63)) is None
    assert watch.hear(0, control(10)) is None


def test_the_tonic_is_learned_as_an_octave_of_keys():
    watch = CueWatch()
    watch.learn(TONIC)
    assert watch.hear(0, control(127)) is None
    assert watch.hear(0, on(24)).learned.trigger == Trigger("note", 24, 35, 0)
    assert watch.hear(0, off(24)) == ABSORBED


def test_what_is_learned_is_told_and_is_not_heard():
    stage = staged()
    stage.feed(Learn(stage.now_ns, TO_F))
    stage.midi(on(24))
    stage.midi(off(24))
    assert stage.out("through") == []
    assert stage.facts("learned") == [{"on": "note C1", "channel": 1, "does": "key F major"}]
    assert stage.facts("cue") == []


def test_learning_can_be_given_up():
    stage = staged()
    stage.feed(Learn(stage.now_ns, TO_F))
    stage.feed(Learn(stage.now_ns, None))
    stage.midi(on(24))
    assert stage.facts("learned") == []
    assert stage.struck("through") != []


# In the engine


@pytest.mark.parametrize("data", [on(24), control(127), control(100, 64), b"\xc0\x03"])
def test_a_cue_is_never_heard_and_never_called(data):
    cues = [Cue(trigger, TO_F) for trigger in (NOTE, WHEEL, PEDAL, PROGRAM)]
    stage = staged(*cues)
    stage.do("start")
    stage.midi(data)
    stage.midi(bytes((data[0] & 0xEF if data[0] < 0xA0 else data[0], data[1], *data[2:])))
    assert stage.out("through") == []
    assert stage.facts("call") == []
    assert [r.kind for r in stage.records if r.kind == "in"] == []
    assert stage.engine.ledger.down(100) == []


def test_a_cue_s_note_does_not_start_the_transport():
    stage = Stage(cues=(Cue(NOTE, TO_F),))
    stage.midi(on(24))
    assert not stage.engine.transport.playing


def test_a_key_is_in_force_for_the_very_next_note():
    stage = staged(Cue(NOTE, TO_F), snap="down")
    stage.midi(on(66))
    stage.midi(on(24))
    stage.midi(on(66), source=1)
    assert [pitch for _, pitch in stage.struck("through")] == [65, 65]
    assert stage.engine.config.key == F_MAJOR
    stage.midi(on(71), source=1)
    assert stage.struck("through")[-1][1] == 70
    told = stage.facts("cue")
    assert told == [{"number": 1, "command": "key F major", "done": False}]


def test_held_notes_end_as_they_began_when_a_cue_changes_the_key():
    stage = staged(Cue(NOTE, Wish("key E major", changes=(("key", parse_key("E major")),))))
    stage.midi(on(65))
    stage.midi(on(24))
    stage.midi(off(65))
    assert [r.data[:2] for r in stage.out("through")] == [b"\x90\x41", b"\x80\x41"]


@pytest.mark.parametrize("pressed", range(12, 24))
@pytest.mark.parametrize("scale", ["minor", "major", "dorian", "major pentatonic"])
def test_the_note_pressed_becomes_the_tonic_and_the_scale_stays(pressed, scale):
    stage = staged(Cue(RANGE, TONIC), key=parse_key(f"D {scale}"))
    stage.midi(on(pressed))
    key = stage.engine.config.key
    assert key.tonic_pc == pressed % 12
    assert key.scale == parse_key(f"D {scale}").scale
    assert abs(key.signature[0]) <= 6
    assert stage.facts("cue")[0]["command"] == f"key {key.name}"
    assert parse_key(key.name) == key


def test_the_other_values_are_taken_at_once():
    stage = staged(
        Cue(Trigger("note", 1, 1), Wish("snap off", changes=(("snap", "off"),))),
        Cue(Trigger("note", 2, 2), Wish("form 1 4", changes=(("form", Form(1, 4)),))),
        Cue(Trigger("note", 3, 3), Wish("tempo 90", changes=(("tempo_bpm", 90.0),))),
        Cue(Trigger("note", 4, 4), Wish("groove half-time", changes=(("groove", "half-time"),))),
    )
    for note in (1, 2, 3, 4):
        stage.midi(on(note))
    config = stage.engine.config
    assert (config.snap, config.form, config.tempo_bpm) == ("off", Form(1, 4), 90.0)
    assert config.answer.groove == "half-time"
    assert [one["number"] for one in stage.facts("cue")] == [1, 2, 3, 4]


def test_actions_and_sections_are_done_at_once():
    plan = Song((Section("A", 2, D_MINOR), Section("B", 2, F_MAJOR)))
    stage = staged(
        Cue(Trigger("note", 1, 1), Wish("start", action="start")),
        Cue(Trigger("note", 2, 2), Wish("section next", section="next")),
        Cue(Trigger("note", 3, 3), PANIC),
        song=plan,
    )
    stage.midi(on(1))
    assert stage.engine.transport.playing
    stage.midi(on(2))
    stage.to_tick(BAR)
    assert stage.engine.config.key == F_MAJOR
    stage.midi(on(3))
    assert stage.engine.panics == 1
    assert [one["done"] for one in stage.facts("cue")] == [True] * 3


@pytest.mark.parametrize(
    "wish", [Wish("keep", action="keep"), Wish("section next", section="next")]
)
def test_what_cannot_be_done_is_told(wish):
    stage = staged(Cue(NOTE, wish))
    stage.midi(on(24))
    assert len(stage.facts("error")) == 1
    assert wish.command.split()[0] in stage.facts("error")[0]["what"]


def test_what_only_the_supervisor_can_read_is_told_it():
    stage = staged(Cue(NOTE, Wish("tap")))
    stage.midi(on(24))
    assert stage.facts("cue") == [{"number": 1, "command": "tap", "done": False}]


def test_settings_made_before_a_cue_was_known_do_not_undo_it():
    from live.notes.events import Change

    stage = staged(Cue(NOTE, TO_F))
    old = stage.engine.song.part.base
    stage.midi(on(24))
    stage.feed(Change(stage.now_ns, old, frozenset(), 0))
    assert stage.engine.config.key == F_MAJOR
    stage.feed(Change(stage.now_ns, old, frozenset(), 1))
    assert stage.engine.config.key == D_MINOR


def test_a_key_by_a_cue_waits_for_the_bar_line_where_keys_do():
    stage = staged(Cue(NOTE, TO_F), key_on_bar=True)
    stage.do("start")
    stage.to_tick(100)
    stage.midi(on(24))
    assert stage.engine.config.key == D_MINOR
    stage.to_tick(BAR)
    assert stage.engine.config.key == F_MAJOR


def test_a_key_by_a_cue_wins_over_the_section_that_runs():
    plan = Song((Section("A", 2, D_MINOR), Section("B", 2, parse_key("E major"))))
    stage = staged(Cue(NOTE, TO_F), song=plan)
    stage.do("start")
    stage.midi(on(24))
    assert stage.engine.config.key == F_MAJOR
    stage.to_tick(2 * BAR)
    assert stage.engine.config.key == parse_key("E major")


def test_a_pedal_that_is_a_cue_is_not_lifted_for_a_lost_input():
    stage = staged(Cue(PEDAL, TO_F))
    stage.midi(control(127, 64))
    assert [r for r in stage.lose(0) if r.kind == "out"] == []
    stage.midi(control(127, 64))
    assert len(stage.facts("cue")) == 2


# Beside what is played: cues that do nothing change nothing

PEDALS_AND_NOTES = st.one_of(
    st.builds(on, st.integers(20, 28), st.sampled_from((1, 90)), st.sampled_from((0, 9))),
    st.builds(off, st.integers(20, 28), st.just(64), st.sampled_from((0, 9))),
    st.builds(lambda note: bytes((0x90, note, 0)), st.integers(20, 28)),
    st.builds(lambda note: bytes((0xA0, note, 50)), st.integers(20, 28)),
    st.builds(control, st.sampled_from((0, 63, 64, 127)), st.sampled_from((20, 21, 64, 66, 123))),
    st.builds(lambda number: bytes((0xC0, number)), st.integers(2, 4)),
    st.just(b"\xe0\x00\x50"),
)
NOTHING = Wish("tap")
SOME = (
    Cue(Trigger("note", 20, 23), NOTHING),
    Cue(WHEEL, NOTHING),
    Cue(PEDAL, NOTHING),
    Cue(PROGRAM, NOTHING),
)


def is_ours(data):
    """Said by hand: which messages the cues of SOME take, if no key was down before."""
    kind = data[0] & 0xF0
    if kind in (0x80, 0x90, 0xA0):
        return 20 <= data[1] <= 23
    return (kind == 0xB0 and data[1] in (20, 64)) or data[:2] == b"\xc0\x03"


@given(st.lists(st.tuples(st.integers(0, 1), PEDALS_AND_NOTES), max_size=60))
def test_what_leaves_is_what_would_leave_if_the_cues_had_not_been_sent(stream):
    """The played notes, their ends and their pedals are the same to the byte.

    A key must be down to come up: a lone end of a note that a cue might have had passes.
    """
    with_cues, without = staged(*SOME), staged()
    down = set()
    for source, data in stream:
        key = (source, data[0] & 0x0F, data[1])
        kind = data[0] & 0xF0
        if is_ours(data) and kind in (0x80, 0x90, 0xA0):
            if kind == 0x90 and data[2]:
                down.add(key)
            elif key not in down:
                continue
            elif kind != 0xA0:
                down.discard(key)
        for stage in (with_cues, without):
            stage.to(stage.now_ns + 400_000_000)  # far apart, so that nothing looks like an echo
        with_cues.midi(data, source)
        if not is_ours(data):
            without.midi(data, source)
    assert with_cues.out("through") == without.out("through")
    assert with_cues.engine.ledger.down(100) == without.engine.ledger.down(100)
    assert with_cues.receiver.sounding == without.receiver.sounding


def test_where_there_are_zones_for_control_notes_give_cues_only_there():
    pads = Zone("switches", "control", sources=frozenset({2}), high=36)
    stage = staged(Cue(NOTE, TO_F), zones=(pads,))
    played = stage.midi(on(24), 0)  # from another input it is a note like any other
    assert [r.port for r in played if r.kind == "out"] == ["through"]
    assert stage.facts("cue") == []
    assert [r for r in stage.midi(on(24), 2) if r.kind in ("in", "out")] == []
    assert [fact["command"] for fact in stage.facts("cue")] == ["key F major"]
    assert stage.engine.config.key == F_MAJOR
    stage.midi(off(24), 2)


def test_without_its_cue_a_note_of_a_zone_for_control_is_silent_and_no_call():
    stage = Stage(zones=(Zone("switches", "control"),))
    for data in (on(60), b"\xb0\x01\x40", off(60)):
        assert [r for r in stage.midi(data) if r.kind == "out"] == []
    assert not stage.engine.transport.playing
    assert stage.facts("moved") == []


def test_what_a_route_copies_past_the_zones_gives_no_cue():
    route = Route("one", "synth", sources=frozenset({1}))
    stage = staged(Cue(NOTE, TO_F), Cue(WHEEL, PANIC), routes=(route,), outputs=("synth",))
    for data in (on(24), control(127), off(24)):
        assert [r.data for r in stage.midi(data, 1) if r.kind == "out"] == [data]
    assert stage.facts("cue") == []
