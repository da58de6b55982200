"""What the ear does with close tones: critical bandwidth and roughness."""

from __future__ import annotations

from functools import lru_cache
from itertools import combinations
from math import exp

from live.theory.pitch import frequency_hz

# Glasberg & Moore 1990, Hearing Research 47:103-138, equation 3; given from 100 Hz to 10 kHz and
# carried on below, as bass notes need it.
ERB_SCALE_HZ = 24.7
ERB_SLOPE_PER_KHZ = 4.37

# Sethares 1993, JASA 94:1218-1228: his fit to the curves of Plomp & Levelt 1965. Both curves
# carry the same weight, so that two tones in unison are smooth.
CURVE_SLOW = 3.51
CURVE_FAST = 5.75
CURVE_HEIGHT = 5.0
CURVE_PLACE = 0.24
CURVE_STRETCH_PER_HZ = 0.0207
CURVE_STRETCH = 18.96

# Sethares 1993 draws his curves for six partials, each 0.88 as strong as the one below it.
PARTIALS = 6
PARTIAL_RATIO = 0.88


def critical_bandwidth_hz(frequency: float) -> float:
    """Equivalent rectangular bandwidth of the ear's filter at a frequency in hertz, in hertz.

    Source: Glasberg & Moore 1990.
    """
    return ERB_SCALE_HZ * (ERB_SLOPE_PER_KHZ * frequency / 1000 + 1)


def bands_apart(low: int, high: int) -> float:
    """How far apart two MIDI notes are, in critical bandwidths at the middle between them."""
    low_hz, high_hz = frequency_hz(low), frequency_hz(high)
    return (high_hz - low_hz) / critical_bandwidth_hz((low_hz + high_hz) / 2)


def sine_roughness(low_hz: float, high_hz: float, amplitude: float = 1.0) -> float:
    """Roughness of two sine tones.

    Args:
        low_hz: the lower frequency in hertz.
        high_hz: the higher frequency in hertz.
        amplitude: of the weaker one.
    Source: Sethares 1993, after Plomp & Levelt 1965.
    """
    place = CURVE_PLACE / (CURVE_STRETCH_PER_HZ * low_hz + CURVE_STRETCH)
    apart = place * (high_hz - low_hz)
    return amplitude * CURVE_HEIGHT * (exp(-CURVE_SLOW * apart) - exp(-CURVE_FAST * apart))


@lru_cache(maxsize=4096)
def roughness(low: int, high: int) -> float:
    """Roughness that two MIDI notes make with each other, above what each has by itself.

    Returns: 0 or more, without a unit; it falls as the same interval climbs.
    """
    total = 0.0
    for low_hz, low_level in _partials(low):
        for high_hz, high_level in _partials(high):
            first, second = sorted((low_hz, high_hz))
            total += sine_roughness(first, second, min(low_level, high_level))
    return total


def chord_roughness(notes: tuple[int, ...]) -> float:
    """Sum of the roughness of every two of the MIDI notes."""
    return sum(roughness(*sorted(pair)) for pair in combinations(notes, 2))


def _partials(note: int) -> list[tuple[float, float]]:
    """(frequency in hertz, amplitude) of each partial of a note."""
    base = frequency_hz(note)
    return [(base * (place + 1), PARTIAL_RATIO**place) for place in range(PARTIALS)]
