"""Routes: what they copy, what they let go, and that they leave nothing hanging.

Source of the kinds: MIDI 1.0 Detailed Specification 4.2.1 (MMA 1996), tables I and V.
"""

from __future__ import annotations

import pytest

from live.notes.events import RETURN_SOURCE
from live.notes.routes import PARTS, Route, part_of
from live.notes.zones import Zone
from live.theory.errors import FieldError
from tests.notes.stage import MS, SECOND, Stage, off, on

ONE = frozenset({1})
COPY = Route("one", "synth", sources=ONE)
# Bend and pressure at rest: what is held would be ended by messages of its own (RP-015).
MESSAGES = {
    "notes": [on(61, 77, 3), off(61, 20, 3)],
    "pressure": [b"\xa3\x3d\x11", b"\xd3\x00"],
    "controllers": [b"\xb3\x07\x11", b"\xb3\x79\x00"],
    "programs": [b"\xc3\x05"],
    "bend": [b"\xe3\x00\x40"],
    "sysex": [b"\xf0\x7d\x01\xf7", b"\xf6", b"\xff"],
    "clock": [b"\xf8", b"\xfa", b"\xfb", b"\xfc", b"\xf2\x10\x02", b"\xf3\x01", b"\xf1\x05"],
}
EVERY = [data for messages in MESSAGES.values() for data in messages]


def stage(*routes: Route, **config) -> Stage:
    return Stage(start_on_first_note=False, routes=routes, outputs=("synth", "bass"), **config)


def left(made, output="synth") -> list[bytes]:
    return [r.data for r in made if r.kind == "out" and r.port == output]


def test_every_status_is_of_one_part_and_active_sensing_of_none():
    for status in range(0x80, 0x100):
        assert part_of(status) in {None, *PARTS}
        assert (part_of(status) is None) == (status == 0xFE)
    assert set(MESSAGES) == set(PARTS)
    for part, messages in MESSAGES.items():
        assert {part_of(data[0]) for data in messages} == {part}


@pytest.mark.parametrize("part", PARTS)
def test_only_copies_what_it_names(part):
    it = stage(Route("one", "synth", only=frozenset({part}), sources=ONE))
    for data in EVERY:
        wanted = [data] if data in MESSAGES[part] else []
        assert left(it.midi(data, 1)) == wanted
        assert it.out("through") == []


def test_everything_is_copied_byte_for_byte_in_its_order():
    it = stage(COPY, snap="white")
    for data in EVERY:
        it.midi(data, 1)
    assert left(it.records) == EVERY
    assert left(it.midi(b"\xfe", 1)) == []


def test_an_input_with_a_route_bypasses_the_zones_unless_a_zone_names_it():
    it = stage(COPY)
    made = it.midi(on(61), 1)
    assert left(made, "through") == []
    assert left(made) == [on(61)]
    assert left(it.midi(on(61), 0), "through") == [on(60)]  # another input is snapped as ever
    both = stage(COPY, zones=(Zone("z", input="one", sources=ONE),))
    made = both.midi(on(61), 1)
    assert left(made, "through") == [on(60)]
    assert left(made) == [on(61)]


def test_a_copy_is_no_call_and_starts_nothing():
    it = Stage(routes=(COPY,), outputs=("synth",))
    it.midi(on(62), 1)
    assert not it.engine.transport.playing
    it.midi(on(62), 0)
    assert it.engine.transport.playing


def test_channels_are_chosen_and_moved_and_messages_of_no_channel_stay():
    it = stage(Route("one", "synth", frozenset({2, 9}), 5, sources=ONE))
    assert left(it.midi(on(60, channel=2), 1)) == [on(60, channel=5)]
    assert left(it.midi(on(60, channel=3), 1)) == []
    assert left(it.midi(b"\xe9\x00\x40", 1)) == [b"\xe5\x00\x40"]
    assert left(it.midi(b"\xc9\x07", 1)) == [b"\xc5\x07"]
    assert left(it.midi(b"\xf8", 1)) == [b"\xf8"]
    assert left(it.midi(off(60, channel=2), 1)) == [off(60, channel=5)]


def test_drums_pass_a_route_untouched():
    # General MIDI System Level 1: channel 10 is percussion.
    it = stage(COPY, snap="white")
    for key in range(128):
        assert left(it.midi(on(key, channel=9), 1)) == [on(key, channel=9)]
        assert left(it.midi(off(key, channel=9), 1)) == [off(key, channel=9)]


def test_routes_fan_out():
    it = stage(COPY, Route("one", "bass", out_channel=1, sources=ONE))
    made = it.midi(on(60), 1)
    assert left(made, "synth") == [on(60)]
    assert left(made, "bass") == [on(60, channel=1)]


def test_two_inputs_on_one_note_of_an_output_end_with_the_last():
    it = stage(Route("all", "synth", sources=frozenset({1, 2})))
    it.midi(on(60), 1)
    assert left(it.midi(on(60), 2)) == [off(60), on(60)]
    assert left(it.midi(off(60), 1)) == []
    assert left(it.midi(off(60, 9), 2)) == [off(60, 9)]
    assert it.receiver.struck_twice == it.receiver.lone_offs == []


def test_a_zone_and_a_route_on_one_note_end_with_the_last():
    it = stage(COPY, zones=(Zone("z", sources=frozenset({2}), output="synth", snap="off"),))
    it.midi(on(60), 1)
    assert left(it.midi(on(60), 2)) == [off(60), on(60)]
    assert left(it.midi(off(60), 2)) == []
    assert left(it.midi(off(60), 1)) == [off(60)]


ENDINGS = {
    "the input is lost": lambda it: it.lose(1),
    "panic": lambda it: it.do("panic"),
    "the end": lambda it: it.do("release"),
    "another route": lambda it: it.change(routes=(Route("one", "bass", sources=ONE),)),
    "no route": lambda it: it.change(routes=()),
    "other channels": lambda it: it.change(
        routes=(Route("one", "synth", frozenset({7}), sources=ONE),)
    ),
    "all notes off": lambda it: it.midi(b"\xb0\x7b\x00", 1),
    "reset": lambda it: it.midi(b"\xff", 1),
}


@pytest.mark.parametrize("how", ENDINGS)
def test_what_a_route_holds_ends(how):
    it = stage(COPY)
    it.midi(on(60), 1)
    it.midi(on(61), 1)
    it.midi(b"\xb0\x40\x7f", 1)
    made = left(ENDINGS[how](it))
    assert made[:2] == [off(60), off(61)]
    if how != "all notes off":  # which respects the pedal
        assert made[2] == b"\xb0\x40\x00"
    assert it.receiver.sounding == set()
    assert it.engine.ledger.sounding("synth") == []


def test_a_route_that_stays_the_same_keeps_what_it_holds():
    it = stage(COPY)
    it.midi(on(60), 1)
    made = it.change(routes=(COPY, Route("two", "bass", sources=frozenset({2}))), snap="off")
    assert left(made) == []
    assert left(it.midi(off(60), 1)) == [off(60)]


def test_a_key_held_in_a_zone_ends_when_its_input_is_routed_past_the_zones():
    it = stage()
    it.midi(on(61), 1)
    it.midi(b"\xb0\x40\x7f", 1)
    assert left(it.change(routes=(COPY,)), "through") == [off(60), b"\xb0\x40\x00"]
    assert left(it.midi(off(61), 1), "through") == []


def test_a_pedal_comes_up_where_it_went_down_though_the_zones_have_changed():
    it = stage(zones=(Zone("bass", high=59, output="bass", out_channel=1), Zone("rest")))
    made = it.midi(b"\xb0\x40\x7f")
    assert left(made, "bass") == [b"\xb1\x40\x7f"]
    assert left(made, "through") == [b"\xb0\x40\x7f"]
    it.change(zones=())
    made = it.midi(b"\xb0\x40\x00")
    assert left(made, "through") == [b"\xb0\x40\x00"]
    assert left(made, "bass") == [b"\xb1\x40\x00"]
    assert left(it.midi(b"\xb0\x40\x00"), "bass") == []


def test_notes_end_by_a_mode_message_even_where_no_controllers_are_copied():
    it = stage(Route("one", "synth", only=frozenset({"notes"}), sources=ONE))
    it.midi(on(60), 1)
    assert left(it.midi(b"\xb0\x7b\x00", 1)) == [off(60)]


def test_a_panic_silences_every_output():
    it = stage()
    made = it.do("panic")
    for output in ("through", "answer", "synth", "bass"):
        told = left(made, output)
        # MIDI 1.0, channel mode messages: 120 and 123 on each of 16 channels.
        assert {(d[0] & 0x0F, d[1]) for d in told} >= {
            (c, m) for c in range(16) for m in (120, 123)
        }


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"channels": frozenset({16})}, "route channel"),
        ({"out_channel": -1}, "route channel"),
        ({"only": frozenset({"melody"})}, "route only"),
    ],
)
def test_what_makes_no_sense_is_refused_by_name(wrong, field):
    with pytest.raises(FieldError) as refused:
        Route("one", "synth", **wrong)
    assert refused.value.field == field


RETURN = Route("return", "synth", sources=frozenset({RETURN_SOURCE}))


def test_what_the_daw_returns_is_no_echo():
    """It plays on what `through` sent it, at once and with the same bytes: that is its work."""
    it = stage(RETURN)
    for number in range(40):
        for data in (on(60 + number % 12), off(60 + number % 12)):
            [back] = left(it.midi(data, 0), "through")
            it.to(it.now_ns + 3 * MS)
            assert left(it.midi(back, RETURN_SOURCE)) == [back]
            it.to(it.now_ns + 40 * MS)
    assert it.facts("error") == []


def test_an_output_wired_back_to_the_return_is_cut():
    it = stage(RETURN)
    it.midi(on(60), RETURN_SOURCE)
    coming, rounds = [on(60)], 0
    while coming and rounds < 100:
        it.to(it.now_ns + 3 * MS)
        coming = [d for back in coming for d in left(it.midi(back, RETURN_SOURCE))]
        rounds += 1
    assert rounds < 40
    told = [fact["what"] for fact in it.facts("error")]
    assert len(told) == 1
    assert "'return'" in told[0]
    assert it.receiver.sounding == set()


def test_a_way_round_through_a_synthesiser_and_a_keyboard_is_cut():
    """through -> DAW -> return -> synth -> (its own thru) -> a keyboard's input -> through ..."""
    it = stage(RETURN, snap="off")
    coming = [(0, on(62)), (0, off(62))]
    events = 0
    while coming and events < 500:
        source, data = coming.pop(0)
        made = it.midi(data, source)
        it.to(it.now_ns + 2 * MS)
        coming += [(RETURN_SOURCE, d) for d in left(made, "through")]
        coming += [(1, d) for d in left(made, "synth")]
        events += 1
    assert events < 200
    assert it.facts("error")
    it.to(it.now_ns + SECOND)
    assert it.receiver.sounding == set()


def test_what_comes_back_is_told_under_its_own_name():
    it = stage(RETURN)
    assert [r.port for r in it.midi(on(60), RETURN_SOURCE) if r.kind == "in"] == ["return"]
    assert [r.port for r in it.midi(on(60), 1) if r.kind == "in"] == ["keys in"]
