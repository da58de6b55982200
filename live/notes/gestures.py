"""What hands and feet hold apart from keys: pedals, the modulation wheel, pitch bend, pressure.

Each is known by the one message that ends it. Modulation 0, bend centred, pressure 0 and pedals up
are where RP-015 (MIDI Manufacturers Association, "Response to Reset All Controllers") puts them;
what it leaves alone is left alone here too (bank, volume, pan, sound controllers). It also sets
expression to its highest: we do not, for a pedal may be meant to stay where it is, and what sounds
on would jump. (RP-015 from memory.)
"""

from __future__ import annotations

from typing import Final

from live.notes.midi import (
    CHANNEL_PRESSURE,
    CONTROL_CHANGE,
    MODULATION,
    PEDAL_DOWN,
    PITCH_BEND,
    SOSTENUTO,
    SUSTAIN,
)

_PEDALS: Final = (SUSTAIN, SOSTENUTO)
_CENTRE: Final = (0, 64)


def rest_of(data: bytes) -> bytes | None:
    """The message that ends the gesture of this one; None if this is no gesture.

    Args:
        data: a whole MIDI message.
    """
    kind = data[0] & 0xF0
    if kind == CONTROL_CHANGE:
        if data[1] == MODULATION or data[1] in _PEDALS:
            return bytes((data[0], data[1], 0))
    elif kind == PITCH_BEND:
        return bytes((data[0], *_CENTRE))
    elif kind == CHANNEL_PRESSURE:
        return bytes((data[0], 0))
    return None


def is_rest(data: bytes) -> bool:
    """True if a gesture is not held any more: `data` is one of those that `rest_of` knows."""
    if is_pedal(data):
        return data[2] < PEDAL_DOWN
    return data == rest_of(data)


def is_pedal(data: bytes) -> bool:
    """True for a pedal: several may press it; of everything else the last word counts."""
    return data[0] & 0xF0 == CONTROL_CHANGE and data[1] in _PEDALS
