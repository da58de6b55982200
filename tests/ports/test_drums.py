from __future__ import annotations

import numpy as np
import pytest

from live.ports.drums import (
    CLAVES,
    DRUM_KEYS,
    HAT,
    KICK,
    OPEN_HAT,
    RIDE,
    SNARE,
    Drums,
    drum_tables,
)
from tests import sounds

RATE_HZ = 48_000


def play(drums, frames, block=128):
    parts = []
    for start in range(0, frames, block):
        size = min(block, frames - start)
        part = drums.render(size)
        parts.append(np.zeros(size, np.float32) if part is None else part)
    return np.concatenate(parts)


def hit(note, velocity=127):
    drums = Drums(RATE_HZ)
    drums.start(note, velocity)
    return play(drums, RATE_HZ)


def centroid_hz(sound):
    hz, amplitudes = sounds.spectrum(sound[: RATE_HZ // 4], RATE_HZ)
    return float((hz * amplitudes**2).sum() / (amplitudes**2).sum())


def test_keys_are_those_of_general_midi():
    # Source: General MIDI System Level 1, Percussion Key Map: 35 Acoustic Bass Drum, 36 Bass Drum
    # 1, 38 Acoustic Snare, 40 Electric Snare, 42 Closed Hi-Hat, 44 Pedal Hi-Hat, 46 Open Hi-Hat,
    # 51 Ride Cymbal 1, 59 Ride Cymbal 2, 75 Claves.
    assert DRUM_KEYS == {
        35: 36, 36: 36, 38: 38, 40: 38, 42: 42, 44: 42, 46: 46, 51: 51, 59: 51, 75: 75,
    }  # fmt: skip
    assert (KICK, SNARE, HAT, OPEN_HAT, RIDE, CLAVES) == (36, 38, 42, 46, 51, 75)


def test_each_drum_lies_where_the_trade_expects_it():
    # Common practice, no source: the kick below 150 Hz, the hat above 5 kHz, the snare between.
    assert centroid_hz(hit(KICK)) < 150
    assert 150 < centroid_hz(hit(SNARE)) < 3000
    assert centroid_hz(hit(HAT)) > 5000
    assert centroid_hz(hit(OPEN_HAT)) > 5000
    assert centroid_hz(hit(RIDE)) > 3000
    assert 2000 < centroid_hz(hit(CLAVES)) < 3000  # claves: about 2.5 kHz


def test_an_open_hat_rings_on_until_the_closed_one_stops_it():
    # Common practice, no source: one pair of cymbals, open or closed.
    drums = Drums(RATE_HZ)
    drums.start(OPEN_HAT, 127)
    assert sounds.peak(play(drums, RATE_HZ // 4)[RATE_HZ // 5 :]) > 0.02
    drums.start(HAT, 127)
    assert drums.sounding == 2
    play(drums, RATE_HZ // 50)
    assert drums.sounding == 1


@pytest.mark.parametrize("note", [0, 34, 37, 49, 60, 127])
def test_other_keys_are_silent(note):
    assert not hit(note).any()


@pytest.mark.parametrize("note", [KICK, SNARE, HAT, OPEN_HAT, RIDE, CLAVES])
def test_a_hit_starts_at_once_ends_by_itself_and_has_no_step(note):
    sound = hit(note) * 10 ** (-24 / 20)  # at the default level
    assert np.argmax(np.abs(sound) > 0.1 * sounds.peak(sound)) < 0.005 * RATE_HZ
    assert sound[0] == 0
    assert not sound[RATE_HZ // 2 :].any()
    assert sounds.largest_step(sound) <= sounds.STEP


def test_velocity_sets_the_level():
    # 40 log10(64 / 127) = -11.90 dB, as for the other voices.
    ratio = sounds.peak(hit(KICK, 64)) / sounds.peak(hit(KICK, 127))
    assert 20 * np.log10(ratio) == pytest.approx(-11.90, abs=0.01)


def test_a_drum_struck_again_fades_its_former_hit():
    drums = Drums(RATE_HZ)
    drums.start(KICK, 127)
    play(drums, 1_000)
    drums.start(KICK, 127)
    drums.start(HAT, 100)
    assert drums.sounding == 3
    play(drums, 500)
    assert drums.sounding == 2


def test_choke_is_silence_within_eight_milliseconds_without_a_step():
    drums = Drums(RATE_HZ)
    drums.start(KICK, 127)
    before = play(drums, 2_000)
    drums.choke()
    after = play(drums, 1_000)
    whole = np.concatenate((before, after))
    assert sounds.largest_step(whole) < 1.2 * sounds.largest_step(before)
    assert not after[round(0.008 * RATE_HZ) + 1 :].any()
    assert drums.sounding == 0


def test_a_flood_of_hits_is_bounded_and_counted():
    drums = Drums(RATE_HZ)
    for _ in range(200):
        drums.start(SNARE, 127)
        drums.render(1)
    assert drums.sounding <= 16
    assert drums.dropped > 0


def test_a_flood_in_one_moment_is_one_hit():
    drums = Drums(RATE_HZ)
    for _ in range(200):
        drums.start(SNARE, 127)
    assert (drums.sounding, drums.dropped) == (1, 0)


def test_the_same_sound_in_every_run():
    first = drum_tables(RATE_HZ)
    drum_tables.cache_clear()
    again = drum_tables(RATE_HZ)
    for drum in (KICK, SNARE, HAT):
        np.testing.assert_array_equal(first[drum], again[drum])
        assert not again[drum].flags.writeable
