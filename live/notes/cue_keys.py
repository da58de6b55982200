"""The keys that a note can ask for: its pitch class on a scale, spelled with few accidentals."""

from __future__ import annotations

from typing import Final

from live.theory.keyfind import numbered_keys
from live.theory.keys import Key
from live.theory.scales import Scale

_TONICS: Final = {number: key.tonic for number, key in numbered_keys()}


def tonic_key(note: int, scale: Scale) -> Key:
    """The key of a scale on a MIDI note, spelled as the major or minor key there usually is."""
    return Key(_TONICS[note % 12 + 12 * scale.is_minor], scale)


def tonic_keys(scale: Scale) -> tuple[Key, ...]:
    """The twelve keys of a scale, from C up."""
    return tuple(tonic_key(note, scale) for note in range(12))
