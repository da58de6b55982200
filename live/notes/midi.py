"""MIDI 1.0 status bytes and the few questions the note path asks of raw bytes.

Source: MIDI 1.0 Detailed Specification 4.2.1 (MMA 1996), tables I to V.
"""

from __future__ import annotations

from typing import Final

NOTE_OFF: Final = 0x80
NOTE_ON: Final = 0x90
POLY_PRESSURE: Final = 0xA0
CONTROL_CHANGE: Final = 0xB0
PROGRAM_CHANGE: Final = 0xC0
CHANNEL_PRESSURE: Final = 0xD0
PITCH_BEND: Final = 0xE0
SONG_POSITION: Final = 0xF2
CLOCK: Final = 0xF8
START: Final = 0xFA
CONTINUE: Final = 0xFB
STOP: Final = 0xFC
ACTIVE_SENSING: Final = 0xFE
SYSTEM_RESET: Final = 0xFF

MODULATION: Final = 1
SUSTAIN: Final = 64
SOSTENUTO: Final = 66
PEDAL_DOWN: Final = 64
"""A pedal is down from this value on (MIDI 1.0, switches)."""
ALL_SOUND_OFF: Final = 120
RESET_CONTROLLERS: Final = 121
ALL_NOTES_OFF: Final = 123
DRUM_CHANNEL: Final = 9
"""Channel 10, counted from 0 (General MIDI System Level 1, percussion)."""

RELEASE_VELOCITY: Final = 64
"""Velocity of note-offs we make ourselves (MIDI 1.0: 64 for keyboards that do not sense it)."""

_MODE_MESSAGES: Final = frozenset({ALL_SOUND_OFF, *range(ALL_NOTES_OFF, 128)})


def note_on(channel: int, note: int, velocity: int) -> bytes:
    """A note-on message; channel 0 to 15, note and velocity 0 to 127."""
    return bytes((NOTE_ON | channel, note, velocity))


def note_off(channel: int, note: int, velocity: int = RELEASE_VELOCITY) -> bytes:
    """A note-off message; channel 0 to 15, note and velocity 0 to 127."""
    return bytes((NOTE_OFF | channel, note, velocity))


def control_change(channel: int, controller: int, value: int) -> bytes:
    """A controller message; channel 0 to 15, the others 0 to 127."""
    return bytes((CONTROL_CHANGE | channel, controller, value))


def ends_notes(data: bytes) -> bool:
    """True for the channel mode messages that silence a channel (CC 120 and 123 to 127)."""
    return data[0] & 0xF0 == CONTROL_CHANGE and data[1] in _MODE_MESSAGES
