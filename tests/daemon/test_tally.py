"""What sounds, counted from the records."""

from __future__ import annotations

from live.daemon.tally import SoundingTally
from live.notes.record import Record


def out(port: str, *data: int) -> Record:
    return Record(0, "out", port, bytes(data))


def test_notes_are_counted_until_their_end_is_told() -> None:
    tally = SoundingTally()
    tally.count(
        [
            out("through", 0x90, 60, 90),
            out("answer", 0x91, 40, 90),
            out("through", 0x90, 64, 90),
            out("through", 0x80, 64, 0),
            out("through", 0x90, 67, 90),
            out("through", 0x90, 67, 0),  # MIDI 1.0: velocity 0 ends the note
            out("through", 0xB0, 7, 127),
            Record(0, "in", "keys in", bytes((0x90, 72, 90))),
            Record(0, "start"),
        ]
    )
    assert tally.endings() == [("answer", b"\x81\x28\x40"), ("through", b"\x80\x3c\x40")]
    tally.count([out("answer", 0x81, 40, 64)])
    assert tally.endings() == [("through", b"\x80\x3c\x40")]


def test_a_pedal_that_is_down_is_lifted_after_the_notes() -> None:
    # MIDI 1.0: a switch is down from 64 on; a note's end alone would leave it ringing.
    tally = SoundingTally()
    tally.count(
        [
            out("through", 0xB2, 64, 127),
            out("through", 0xB0, 66, 64),
            out("through", 0xB1, 64, 127),
            out("through", 0x92, 60, 90),
            out("through", 0xB1, 64, 63),
        ]
    )
    lifts = [("through", b"\xb0\x42\x00"), ("through", b"\xb2\x40\x00")]
    assert tally.endings() == [("through", b"\x82\x3c\x40"), *lifts]
    tally.count([Record(0, "out", port, data) for port, data in tally.endings()])
    assert tally.endings() == []


def test_a_bend_a_wheel_and_pressure_go_to_rest_after_the_notes() -> None:
    # RP-015: at rest a bend is centred (0, 64), modulation and pressure are 0 (from memory).
    tally = SoundingTally()
    tally.count(
        [
            out("through", 0xE1, 0, 80),
            out("through", 0xD2, 50),
            out("answer", 0xB0, 1, 9),
            out("through", 0xE0, 5, 70),
            out("through", 0xE0, 0, 64),
            out("through", 0xD3, 1),
            out("through", 0xD3, 0),
        ]
    )
    assert tally.endings() == [
        ("answer", b"\xb0\x01\x00"), ("through", b"\xd2\x00"), ("through", b"\xe1\x00\x40"),
    ]  # fmt: skip
    tally.count([Record(0, "out", port, data) for port, data in tally.endings()])
    assert tally.endings() == []
