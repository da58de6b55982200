"""Tempo arithmetic against other libraries and against figures known in the trade."""

from __future__ import annotations

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import tempo

from live.clock.transport import Transport
from live.clock.units import ticks_to_ns

TEMPOS = (20.0, 60.0, 90.0, 119.7, 120.0, 140.0, 168.0, 172.0, 174.0, 400.0)


@pytest.mark.parametrize(
    ("tempo_bpm", "ticks", "length_ms"),
    [
        (172, 1920, 697.7),  # half note; common practice, no source
        (120, 960, 500.0),  # quarter note; common practice, no source
        (174, 960, 344.8),  # quarter note; common practice, no source
        (160, 240, 93.75),  # sixteenth; common practice, no source
        (60, 3840, 4000.0),  # bar of 4/4; by the definition of beats a minute
    ],
)
def test_delay_times_of_the_trade(tempo_bpm, ticks, length_ms):
    assert ticks_to_ns(ticks, tempo_bpm) / 1e6 == pytest.approx(length_ms, abs=0.05)


@pytest.mark.parametrize("tempo_bpm", TEMPOS)
def test_a_quarter_note_lasts_what_music21_says(tempo_bpm):
    seconds = tempo.MetronomeMark(number=tempo_bpm).secondsPerQuarter()
    assert ticks_to_ns(960, tempo_bpm) == pytest.approx(seconds * 1e9, abs=1)


@given(st.integers(0, 10**7), st.sampled_from((100, 125, 128, 150, 160, 200, 240, 250, 300)))
def test_ticks_last_what_mido_says(ticks, tempo_bpm):
    # Tempos whose microseconds a quarter note are whole, as Standard MIDI Files hold them.
    seconds = mido.tick2second(ticks, 960, mido.bpm2tempo(tempo_bpm))
    assert ticks_to_ns(ticks, tempo_bpm) == pytest.approx(seconds * 1e9, rel=1e-9, abs=1)


@pytest.mark.parametrize("tempo_bpm", TEMPOS)
def test_the_transport_reaches_a_beat_when_mido_says(tempo_bpm):
    transport = Transport(tempo_bpm)
    transport.start(0)
    for ticks in (0, 1, 40, 959, 960, 3840, 960 * 1000):
        seconds = mido.tick2second(ticks, 960, 60e6 / tempo_bpm)
        assert transport.ns_at(ticks) == pytest.approx(seconds * 1e9, rel=1e-12, abs=1)
