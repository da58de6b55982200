from __future__ import annotations

from itertools import pairwise
from math import exp

import pytest

from live.theory.pitch import parse_note
from live.theory.roughness import (
    bands_apart,
    chord_roughness,
    critical_bandwidth_hz,
    roughness,
    sine_roughness,
)


@pytest.mark.parametrize(
    ("frequency", "bandwidth"),
    # Glasberg & Moore 1990, equation 3, worked out by hand.
    [
        *((41.2, 29.15), (55, 30.64), (100, 35.49), (110, 36.57), (220, 48.45), (440, 72.19)),
        (1000, 132.64),
    ],
)
def test_critical_bandwidth(frequency, bandwidth):
    assert critical_bandwidth_hz(frequency) == pytest.approx(bandwidth, abs=0.005)


@pytest.mark.parametrize(
    ("semitones", "lowest", "bands"),
    # Width of the intervals at their low limits in bands (limits: a glossary of arranging).
    [
        *((1, "E3", 0.23), (2, "Eb3", 0.45), (3, "C3", 0.62), (4, "B2", 0.81), (5, "A2", 0.96)),
        (7, "C#2", 1.01),
    ],
)
def test_bands_apart_at_the_low_limits(semitones, lowest, bands):
    low = parse_note(lowest)
    assert bands_apart(low, low + semitones) == pytest.approx(bands, abs=0.021)


@pytest.mark.parametrize(
    ("frequency", "roughest_hz"),
    # Sethares 1993: the curve is highest where s times the difference is 0.22035.
    [(41.2, 18.19), (82.4, 18.97), (110, 19.50), (220, 21.59), (440, 25.77)],
)
def test_where_two_sines_are_roughest(frequency, roughest_hz):
    steps = [0.01 * step for step in range(1, 6000)]
    found = max(steps, key=lambda step: sine_roughness(frequency, frequency + step))
    assert found == pytest.approx(roughest_hz, abs=0.02)


def test_two_sines_in_numbers():
    # Sethares 1993 at 440 Hz, 20 Hz apart, from his formula.
    s = 0.24 / (0.0207 * 440 + 18.96)
    expected = 5 * exp(-3.51 * s * 20) - 5 * exp(-5.75 * s * 20)
    assert sine_roughness(440, 460) == pytest.approx(expected, rel=1e-12)
    assert sine_roughness(440, 440) == 0
    assert sine_roughness(440, 460, 0.5) == pytest.approx(expected / 2)


@pytest.mark.parametrize(
    ("semitones", "values"),
    # Six partials of 0.88, each tone's own roughness left out, at E1, E2, C3 and C4; computed apart
    # from this code.
    [
        (3, (7.97, 5.00, 3.58, 2.08)),
        (7, (5.84, 2.96, 1.66, 0.63)),
        (12, (3.09, 0.91, 0.30, 0.05)),
    ],
)
def test_dyads(semitones, values):
    for name, expected in zip(("E1", "E2", "C3", "C4"), values, strict=True):
        low = parse_note(name)
        assert roughness(low, low + semitones) == pytest.approx(expected, abs=0.006)


@pytest.mark.parametrize("semitones", range(25))
def test_an_interval_is_smoother_the_higher_it_lies(semitones):
    # Over the whole range up to the octave; wider ones up to middle C, above which there is so
    # little roughness left that single partials decide.
    top = 127 - semitones if semitones <= 12 else 60
    values = [roughness(low, low + semitones) for low in range(top + 1)]
    assert all(below > above for below, above in pairwise(values))
    assert len(values) > 60


def test_a_chord_is_the_sum_of_its_dyads():
    assert chord_roughness((40, 47, 43)) == pytest.approx(
        roughness(40, 43) + roughness(40, 47) + roughness(43, 47)
    )
    assert chord_roughness((40,)) == 0
