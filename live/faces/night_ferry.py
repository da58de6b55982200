"""'Night Ferry': the built-in scenario, a short performance invented for this project.

D minor at 168 BPM over `i VI iv v`, two bars each; two bars of call, two of answer. The player
holds pads of two notes, drones on a few close notes, stabs a chord off the beat, and slips off
the key once in each call, and once more in a pad.
"""

from __future__ import annotations

import random
from typing import Final, NamedTuple

from live.clock.metre import Metre
from live.clock.units import NS_PER_S, TICKS_PER_SIXTEENTH, ticks_to_ns
from live.theory.pitch import parse_note

KEY: Final = "D minor"
TEMPO_BPM: Final = 168.0
PROGRESSION: Final = "i:2 VI:2 iv:2 v:2"
CALL_BARS: Final = 2
ANSWER_BARS: Final = 2
BARS: Final = 16
METRE: Final = Metre(4, 4)
LOOSENESS_S: Final = 0.008
"""The player is late by up to this much, never early (our choice: a relaxed hand)."""


class Touch(NamedTuple):
    """A key going down and up.

    Fields:
        bar: counted from 0. step: sixteenth in the bar, 0 to 15. steps: length in sixteenths.
        note: name of the pressed key. velocity: 1 to 127.
    """

    bar: int
    step: int
    steps: int
    note: str
    velocity: int


class Press(NamedTuple):
    """One MIDI note message of the performance: nanoseconds from the first bar line, raw bytes."""

    at_ns: int
    data: bytes


_PADS: Final = (
    Touch(0, 0, 30, "A3", 52), Touch(0, 0, 30, "D4", 50),
    Touch(2, 0, 30, "Bb3", 50), Touch(2, 0, 30, "D4", 50),
    Touch(6, 0, 30, "A3", 50), Touch(6, 0, 30, "E4", 48),
    Touch(8, 0, 30, "A3", 54), Touch(8, 0, 30, "C4", 50),
    Touch(10, 0, 30, "Bb3", 52), Touch(10, 1, 29, "C#4", 50),  # slip
    Touch(14, 0, 30, "A3", 50), Touch(14, 0, 30, "E4", 46),
)  # fmt: skip

_DRONE: Final = (
    Touch(0, 0, 5, "F4", 84), Touch(0, 6, 4, "E4", 76), Touch(0, 11, 2, "F4", 80),
    Touch(0, 14, 2, "G#4", 86),  # slip
    Touch(1, 0, 5, "G4", 88), Touch(1, 6, 3, "F4", 78), Touch(1, 10, 4, "E4", 82),
    Touch(8, 0, 5, "F4", 86), Touch(8, 6, 4, "E4", 78), Touch(8, 11, 2, "F4", 82),
    Touch(8, 14, 2, "Eb4", 74),  # slip
    Touch(9, 0, 5, "F4", 86), Touch(9, 6, 2, "G4", 80), Touch(9, 8, 6, "A4", 92),
)  # fmt: skip

_STABS: Final = (
    Touch(4, 2, 2, "Bb3", 96), Touch(4, 2, 2, "D4", 98), Touch(4, 2, 2, "G4", 102),
    Touch(4, 8, 3, "Bb4", 86), Touch(4, 11, 2, "A4", 78), Touch(4, 14, 2, "G4", 80),
    Touch(5, 2, 2, "Bb3", 94), Touch(5, 2, 2, "D4", 96), Touch(5, 2, 2, "G4", 100),
    Touch(5, 6, 3, "B4", 84),  # slip
    Touch(5, 10, 4, "Bb4", 82),
    Touch(12, 0, 2, "Bb3", 96), Touch(12, 0, 2, "D4", 98), Touch(12, 0, 2, "G4", 102),
    Touch(12, 6, 4, "D5", 92), Touch(12, 11, 2, "C5", 80),
    Touch(12, 14, 2, "C#5", 88),  # slip
    Touch(13, 2, 2, "Bb3", 94), Touch(13, 2, 2, "D4", 96), Touch(13, 2, 2, "G4", 100),
    Touch(13, 6, 3, "Bb4", 84), Touch(13, 10, 4, "A4", 80),
)  # fmt: skip

PERFORMANCE: Final = tuple(sorted(_PADS + _DRONE + _STABS, key=lambda t: (t.bar, t.step)))


def performance(seed: int = 7) -> list[Press]:
    """The performance as stamped note messages on channel 1, in order of time.

    Args:
        seed: chooses how late each touch is; the same seed gives the same times.
    """
    chance = random.Random(seed)
    presses: list[Press] = []
    for touch in PERFORMANCE:
        onset = touch.bar * METRE.bar_ticks + touch.step * TICKS_PER_SIXTEENTH
        late_ns = round(chance.uniform(0.0, LOOSENESS_S) * NS_PER_S)
        down_ns = ticks_to_ns(onset, TEMPO_BPM) + late_ns
        up_ns = down_ns + ticks_to_ns(touch.steps * TICKS_PER_SIXTEENTH, TEMPO_BPM)
        note = parse_note(touch.note)
        presses.append(Press(down_ns, bytes((0x90, note, touch.velocity))))
        presses.append(Press(up_ns, bytes((0x80, note, 64))))
    return sorted(presses, key=lambda p: (p.at_ns, p.data[0]))
