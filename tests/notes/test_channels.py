"""Pedals and MPE zones as a receiver knows them.

Sources: MIDI 1.0, controllers 64 and 66 (down from 64 on); RP-015; MPE 1.0: RPN 6 on channel 1 or
16 sets the number of member channels next to it, up to 15, and the newer zone takes what it needs
(from memory).
"""

from __future__ import annotations

import pytest

from live.notes.channels import Channels


def tell(channels: Channels, *controls: tuple[int, int], channel: int = 0, source: int = 0) -> None:
    for controller, value in controls:
        channels.gesture(source, bytes((0xB0 | channel, controller, value)))
        channels.control(channel, controller, value)


def set_zone(channels: Channels, manager: int, members: int) -> None:
    tell(channels, (101, 0), (100, 6), (6, members), channel=manager)


def test_a_pedal_comes_up_when_the_last_that_pressed_it_has_gone():
    channels = Channels()
    tell(channels, (64, 64), (66, 127), channel=2)
    tell(channels, (64, 100), channel=2, source=1)
    assert channels.lift_of(0) == [b"\xb2\x42\x00"]
    assert channels.lift_of(0) == []
    assert channels.lift_of(1) == [b"\xb2\x40\x00"]


def test_whoever_lifts_it_lifts_it_for_the_receiver():
    channels = Channels()
    tell(channels, (64, 127))
    tell(channels, (64, 63), source=1)
    assert channels.lift_of(0) == []
    assert channels.lift_all() == []


BEND, PRESSURE, WHEEL = b"\xe4\x00\x60", b"\xd4\x30", b"\xb4\x01\x7f"
AT_REST = {BEND: b"\xe4\x00\x40", PRESSURE: b"\xd4\x00", WHEEL: b"\xb4\x01\x00"}
"""RP-015: reset puts a bend in the centre, pressure and modulation to 0 (from memory)."""


@pytest.mark.parametrize("held", AT_REST)
def test_a_gesture_goes_to_rest_when_the_last_that_moved_it_has_gone(held):
    channels = Channels()
    channels.gesture(0, held)
    assert channels.lift_of(1) == []
    assert channels.lift_of(0) == [AT_REST[held]]
    assert channels.lift_of(0) == []


@pytest.mark.parametrize("held", AT_REST)
def test_the_last_word_counts(held):
    channels = Channels()
    channels.gesture(0, held)
    channels.gesture(1, held)
    assert channels.lift_of(0) == []  # the receiver stands where the other has it
    assert channels.lift_of(1) == [AT_REST[held]]
    channels.gesture(0, held)
    channels.gesture(1, AT_REST[held])
    assert channels.lift_all() == []


def test_a_bend_that_is_not_quite_centred_is_held():
    channels = Channels()
    channels.gesture(0, b"\xe0\x01\x40")
    assert channels.lift_all() == [b"\xe0\x00\x40"]


def test_other_controllers_stay_where_they_are():
    # RP-015 leaves volume, pan, bank, and sound controllers alone; expression is our own choice.
    channels = Channels()
    for controller in sorted({*range(120)} - {1, 64, 66}):
        channels.gesture(0, bytes((0xB0, controller, 100)))
    channels.gesture(0, b"\xc0\x05")
    assert channels.lift_all() == []


def test_every_pedal_is_lifted_once():
    channels = Channels()
    tell(channels, (64, 127), (66, 127), channel=3)
    tell(channels, (64, 127), channel=9)
    assert sorted(channels.lift_all()) == [b"\xb3\x40\x00", b"\xb3\x42\x00", b"\xb9\x40\x00"]
    assert channels.lift_all() == []


@pytest.mark.parametrize(
    ("manager", "members", "zone"),
    [
        (0, 0, {0}),
        (0, 3, {0, 1, 2, 3}),
        (0, 15, set(range(16))),
        (0, 127, set(range(16))),
        (15, 3, {15, 14, 13, 12}),
        (15, 15, set(range(16))),
    ],
)
def test_a_zone_is_the_manager_and_the_channels_next_to_it(manager, members, zone):
    channels = Channels()
    set_zone(channels, manager, members)
    assert set(channels.zone(manager)) == zone
    assert next(iter(channels.zone(manager))) == manager
    assert list(channels.zone(5)) == [5]
    set_zone(channels, manager, 0)
    assert list(channels.zone(manager)) == [manager]


def test_the_newer_zone_takes_what_it_needs():
    channels = Channels()
    set_zone(channels, 0, 10)
    set_zone(channels, 15, 6)
    assert set(channels.zone(0)) == set(range(9))
    assert set(channels.zone(15)) == set(range(9, 16))


@pytest.mark.parametrize(
    "before",
    [
        [(101, 0), (100, 6), (101, 127)],
        [(101, 0), (100, 6), (99, 0)],
        [(101, 0), (100, 5)],
        [(101, 0), (100, 6), (121, 0)],
        [],
    ],
)
def test_data_entry_for_another_parameter_sets_no_zone(before):
    channels = Channels()
    tell(channels, *before, (6, 4))
    assert list(channels.zone(0)) == [0]


def test_only_the_outer_channels_manage_a_zone():
    channels = Channels()
    set_zone(channels, 7, 4)
    assert list(channels.zone(7)) == [7]


def test_resetting_controllers_lifts_the_pedals_of_the_zone():
    channels = Channels()
    set_zone(channels, 0, 2)
    for channel in (0, 2, 3):
        tell(channels, (64, 127), channel=channel)
    assert channels.lift(0) == [b"\xb0\x40\x00", b"\xb2\x40\x00"]
    assert channels.lift_all() == [b"\xb3\x40\x00"]


def test_resetting_controllers_ends_the_gestures_of_the_zone():
    channels = Channels()
    set_zone(channels, 0, 2)
    for channel in (0, 2, 3):
        channels.gesture(0, bytes((0xE0 | channel, 0, 0)))
    assert channels.lift(0) == [b"\xe0\x00\x40", b"\xe2\x00\x40"]
    assert channels.lift_all() == [b"\xe3\x00\x40"]


def test_a_system_reset_forgets_everything():
    channels = Channels()
    set_zone(channels, 0, 2)
    tell(channels, (64, 127), (101, 0), (100, 6), (1, 5))
    channels.reset()
    tell(channels, (6, 5))
    assert list(channels.zone(0)) == [0]
    assert channels.lift_all() == []
