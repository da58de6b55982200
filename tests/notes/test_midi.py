"""Bytes against the standard (MIDI 1.0 Detailed Specification 4.2.1, tables I to V) and mido."""

import mido
import pytest

from live.notes import midi


@pytest.mark.parametrize(
    ("status", "name"),
    [
        (midi.NOTE_OFF, "note_off"),
        (midi.NOTE_ON, "note_on"),
        (midi.POLY_PRESSURE, "polytouch"),
        (midi.CONTROL_CHANGE, "control_change"),
        (midi.PITCH_BEND, "pitchwheel"),
        (midi.SONG_POSITION, "songpos"),
        (midi.CLOCK, "clock"),
        (midi.START, "start"),
        (midi.CONTINUE, "continue"),
        (midi.STOP, "stop"),
        (midi.ACTIVE_SENSING, "active_sensing"),
        (midi.SYSTEM_RESET, "reset"),
    ],
)
def test_status_bytes_are_mido_s(status, name):
    assert mido.Message(name).bytes()[0] == status


@pytest.mark.parametrize("channel", range(16))
@pytest.mark.parametrize("value", [0, 1, 64, 127])
def test_messages_are_mido_s(channel, value):
    note = {"channel": channel, "note": 127 - value, "velocity": value}
    assert (
        list(midi.note_on(channel, 127 - value, value)) == mido.Message("note_on", **note).bytes()
    )
    assert (
        list(midi.note_off(channel, 127 - value, value)) == mido.Message("note_off", **note).bytes()
    )
    change = mido.Message("control_change", channel=channel, control=value, value=127 - value)
    assert list(midi.control_change(channel, value, 127 - value)) == change.bytes()


def test_our_own_note_offs_have_the_velocity_for_keyboards_that_sense_none():
    assert midi.note_off(0, 60) == b"\x80\x3c\x40"  # 64: MIDI 1.0, "Note Off"


@pytest.mark.parametrize("status", range(0x80, 0xF0))
def test_which_messages_end_the_notes_of_a_channel(status):
    # "Channel Mode Messages": 120 all sound off, 123 all notes off, and 124 to 127 do it as well;
    # 121 (reset all controllers) and 122 (local control) do not.
    for controller in range(128):
        ends = status & 0xF0 == 0xB0 and controller in {120, 123, 124, 125, 126, 127}
        assert midi.ends_notes(bytes((status, controller, 0))) == ends


def test_percussion_is_channel_10():
    assert midi.DRUM_CHANNEL + 1 == 10  # General MIDI System Level 1
