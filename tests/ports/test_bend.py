from __future__ import annotations

import numpy as np
import pytest

from live.ports.bend import Bend


def cents(bend, channel=0):
    return 1200 * np.log2(bend.ratios[channel])


@pytest.mark.parametrize(
    ("low", "high", "wanted"), [(0, 64, 0.0), (127, 127, 200.0), (0, 0, -200.0), (0, 96, 100.0)]
)
def test_two_semitones_either_way_to_begin_with(low, high, wanted):
    # Source: MIDI 1.0 Detailed Specification: 14 bits, least significant byte first, centre 0x2000,
    # default sensitivity two semitones (General MIDI Level 1).
    bend = Bend()
    bend.wheel(0, low, high)
    assert cents(bend) == pytest.approx(wanted, abs=0.05)


def test_channels_bend_alone():
    bend = Bend()
    bend.wheel(3, 127, 127)
    assert cents(bend, 3) == pytest.approx(200, abs=0.05)
    assert (np.delete(bend.ratios, 3) == 1).all()


def test_registered_parameter_0_sets_the_range():
    # Source: MIDI 1.0, Registered Parameter Number 00 00, Pitch Bend Sensitivity: the data entry's
    # most significant byte is in semitones.
    bend = Bend()
    bend.wheel(0, 0, 0)
    for number, value in ((101, 0), (100, 0), (6, 12)):
        bend.control(0, number, value)
    assert cents(bend) == pytest.approx(-1200, abs=0.05)
    bend.control(0, 6, 127)
    assert cents(bend) == pytest.approx(-2400, abs=0.05)  # our own limit of 24 semitones


@pytest.mark.parametrize(
    "chosen", [(), ((101, 127), (100, 127)), ((101, 0), (100, 1)), ((101, 0), (100, 0), (99, 1))]
)
def test_data_entry_for_other_parameters_changes_nothing(chosen):
    bend = Bend()
    bend.wheel(0, 127, 127)
    for number, value in (*chosen, (6, 12)):
        bend.control(0, number, value)
    assert cents(bend) == pytest.approx(200, abs=0.05)


def test_reset_centres_the_wheel_and_keeps_the_range():
    # Source: MMA Recommended Practice 015, Response to Reset All Controllers (from memory).
    bend = Bend()
    for number, value in ((101, 0), (100, 0), (6, 7)):
        bend.control(0, number, value)
    bend.wheel(0, 127, 127)
    bend.centre(0)
    assert cents(bend) == 0
    bend.control(0, 6, 2)  # no parameter is chosen any longer
    bend.wheel(0, 127, 127)
    assert cents(bend) == pytest.approx(700, abs=0.2)
