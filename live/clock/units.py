"""Units of time, and the few conversions between them.

A beat is always a quarter note. Musical time is counted in whole ticks so that bar lines are
exact; clock time is counted in whole nanoseconds of a monotonic clock.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Final

TICKS_PER_BEAT: Final = 960
"""Ticks in a quarter note: divisible by 2..6, 8, 10, 12, 15, 16, 20, 24, 32 (triplets to 64ths)."""

CLOCKS_PER_BEAT: Final = 24
"""MIDI clock messages in a quarter note (MIDI 1.0 Detailed Specification, timing clock F8)."""

TICKS_PER_CLOCK: Final = TICKS_PER_BEAT // CLOCKS_PER_BEAT
TICKS_PER_SIXTEENTH: Final = TICKS_PER_BEAT // 4
CLOCKS_PER_SIXTEENTH: Final = 6
"""MIDI clocks in a sixteenth note, the unit of song position (MIDI 1.0, F2)."""

NS_PER_S: Final = 1_000_000_000
NS_PER_MINUTE: Final = 60 * NS_PER_S
UNSTATED_TEMPO_BPM: Final = 120.0
"""Tempo of a Standard MIDI File until its first tempo event (MIDI Association, RP-001)."""

MIN_TEMPO_BPM: Final = 20.0
MAX_TEMPO_BPM: Final = 400.0
"""Tempos at which Undersong runs. A file may hold slower and faster ones."""

FILE_TEMPOS: Final = "3.5763 to 60000000 quarter notes a minute"
"""What a Standard MIDI File can hold, in words: a beat of 0xFFFFFF down to 1 microseconds."""
_LONGEST_BEAT_US: Final = 0xFFFFFF  # three bytes (RP-001, FF 51)
_US_PER_MINUTE: Final = 60_000_000
_TEMPO_DECIMALS: Final = range(9)


def beat_us(tempo_bpm: float) -> int | None:
    """Microseconds of a beat as a Standard MIDI File holds them, None if it cannot (also NaN)."""
    if not 1 <= tempo_bpm <= _US_PER_MINUTE:
        return None
    us = round(_US_PER_MINUTE / tempo_bpm)
    return us if us <= _LONGEST_BEAT_US else None


def file_tempo_bpm(us: int) -> float:
    """The tempo of a beat of 1 to 0xFFFFFF microseconds: 357143 is read as 168.

    It has as few decimals as it takes to become the same microseconds again.
    """
    exact_bpm = _US_PER_MINUTE / us
    rounded = (round(exact_bpm, decimals) for decimals in _TEMPO_DECIMALS)
    return next((bpm for bpm in rounded if beat_us(bpm) == us), exact_bpm)


def ticks_to_ns(ticks: float, tempo_bpm: float) -> int:
    """Length of `ticks` at `tempo_bpm` quarter notes a minute, in nanoseconds, rounded."""
    return round(ticks * NS_PER_MINUTE / (tempo_bpm * TICKS_PER_BEAT))


def ns_to_ticks(length_ns: int, tempo_bpm: float) -> float:
    """Ticks that fit in `length_ns` at `tempo_bpm`; not rounded."""
    return length_ns * tempo_bpm * TICKS_PER_BEAT / NS_PER_MINUTE


def ticks_to_beats(ticks: int) -> float:
    """Ticks as quarter notes."""
    return ticks / TICKS_PER_BEAT


def beats_to_ticks(beats: float | Fraction) -> int:
    """Quarter notes as the nearest whole tick."""
    return round(beats * TICKS_PER_BEAT)
