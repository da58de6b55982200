from __future__ import annotations

import numpy as np
import pytest

from live.ports.voices import BASS, KEYS, Bank, velocity_gain
from tests import sounds

RATE_HZ = 48_000
UNBENT = np.ones(16)


def play(bank, frames, block=128):
    parts = []
    for start in range(0, frames, block):
        size = min(block, frames - start)
        part = bank.render(size, UNBENT)
        parts.append(np.zeros(size, np.float32) if part is None else part)
    return np.concatenate(parts)


@pytest.mark.parametrize("tone", [KEYS, BASS], ids=["keys", "bass"])
@pytest.mark.parametrize("note", range(24, 109))
def test_every_note_is_in_tune_within_three_cents(note, tone):
    bank = Bank(tone, RATE_HZ, 4)
    bank.start(note, 100)
    sound = play(bank, 2 * RATE_HZ, 4096)
    measured_hz = sounds.strongest_hz(sound, RATE_HZ)
    assert abs(sounds.cents(measured_hz, sounds.equal_temperament_hz(note))) < 3


@pytest.mark.parametrize(("note", "hz"), [(69, 440.0), (60, 261.626), (21, 27.5), (108, 4186.01)])
def test_the_measure_agrees_with_printed_frequencies(note, hz):
    # Source: table of equal-tempered frequencies, e.g. Backus 1977, The Acoustical Foundations of
    # Music, appendix (from memory).
    assert sounds.equal_temperament_hz(note) == pytest.approx(hz, rel=1e-5)


@pytest.mark.parametrize("rate_hz", [22_050, 44_100, 96_000])
def test_tuning_holds_at_other_sample_rates(rate_hz):
    for note in (28, 60, 93):
        bank = Bank(KEYS, rate_hz, 4)
        bank.start(note, 100)
        measured_hz = sounds.strongest_hz(play(bank, 2 * rate_hz, 4096), rate_hz)
        assert abs(sounds.cents(measured_hz, sounds.equal_temperament_hz(note))) < 3


@pytest.mark.parametrize(("velocity", "wanted_db"), [(127, 0.0), (100, -4.15), (64, -11.90)])
def test_velocity_follows_the_concave_curve(velocity, wanted_db):
    # Source: Downloadable Sounds Level 1, 20 log10(127^2 / velocity^2) of attenuation (from
    # memory); 40 log10(64 / 127) = -11.90.
    assert 20 * np.log10(velocity_gain(velocity)) == pytest.approx(wanted_db, abs=0.01)

    def fundamental(played):
        bank = Bank(KEYS, RATE_HZ, 4)
        bank.start(60, played)
        return sounds.partial(play(bank, RATE_HZ), RATE_HZ, sounds.equal_temperament_hz(60))

    measured_db = 20 * np.log10(fundamental(velocity) / fundamental(127))
    assert measured_db == pytest.approx(wanted_db, abs=0.1)


def test_softer_notes_are_duller():
    def second_over_first(velocity):
        bank = Bank(KEYS, RATE_HZ, 4)
        bank.start(50, velocity)
        sound = play(bank, RATE_HZ)
        hz = sounds.equal_temperament_hz(50)
        return sounds.partial(sound, RATE_HZ, 2 * hz) / sounds.partial(sound, RATE_HZ, hz)

    assert second_over_first(30) < 0.8 * second_over_first(127)


def test_the_bass_can_be_heard_on_small_loudspeakers():
    # A second harmonic within 12 dB of the fundamental: common practice, no source for the figure.
    bank = Bank(BASS, RATE_HZ, 4)
    bank.start(28, 100)  # E1, 41.2 Hz
    sound = play(bank, RATE_HZ)
    ratio = sounds.partial(sound, RATE_HZ, 82.41) / sounds.partial(sound, RATE_HZ, 41.20)
    assert 0.25 < ratio < 1.0


@pytest.mark.parametrize("note", [96, 108, 120, 127])
def test_no_harmonic_is_folded_back_below_the_note(note):
    # Nyquist: a partial above half the sample rate comes back mirrored.
    bank = Bank(KEYS, RATE_HZ, 4)
    bank.start(note, 127)
    sound = play(bank, RATE_HZ)
    hz, amplitudes = sounds.spectrum(sound, RATE_HZ)
    below = amplitudes[hz < 0.9 * sounds.equal_temperament_hz(note)].max()
    assert below < 1e-4 * amplitudes.max()


@pytest.mark.parametrize("tone", [KEYS, BASS], ids=["keys", "bass"])
def test_starts_are_ramps_of_five_to_ten_milliseconds(tone):
    bank = Bank(tone, RATE_HZ, 4)
    bank.start(81, 127)  # 880 Hz: its period is short beside the ramp
    sound = play(bank, RATE_HZ // 10)
    top = sounds.peak(sound)
    reached_s = np.argmax(np.abs(sound) > 0.9 * top) / RATE_HZ
    assert 0.003 < reached_s < 0.010
    assert sounds.peak(sound[:48]) < 0.1 * top  # first millisecond
    assert sounds.largest_step(sound[:480]) <= 1.05 * sounds.largest_step(sound[480:])


def test_release_ends_in_exact_silence_and_frees_the_voice():
    bank = Bank(KEYS, RATE_HZ, 4)
    bank.start(60, 100)
    play(bank, 10_000)
    bank.release(60)
    tail = play(bank, RATE_HZ)
    end = round(KEYS.release_s * RATE_HZ)
    assert sounds.peak(tail[: end // 4]) > 0.01
    assert sounds.loudness_db(tail[end - 480 : end]) < sounds.loudness_db(tail[:480]) - 50
    assert not tail[end + 1 :].any()
    assert bank.sounding == 0


def test_choke_ends_within_eight_milliseconds_without_a_step():
    bank = Bank(BASS, RATE_HZ, 4)
    bank.start(40, 127)
    before = play(bank, 5_000)
    bank.choke()
    after = play(bank, 1_000)
    whole = np.concatenate((before, after))
    assert sounds.largest_step(whole) < 1.3 * sounds.largest_step(before)
    assert not after[round(0.008 * RATE_HZ) + 1 :].any()
    assert bank.sounding == 0


def test_the_same_key_again_fades_its_former_voice():
    bank = Bank(KEYS, RATE_HZ, 4)
    bank.start(60, 100)
    play(bank, 1_000)
    bank.start(60, 100)
    assert bank.sounding == 2
    play(bank, 1_000)
    assert bank.sounding == 1


def test_the_oldest_note_gives_way_and_a_released_one_first():
    bank = Bank(KEYS, RATE_HZ, 3)
    for note in (50, 60, 70):
        bank.start(note, 100)
        play(bank, 100)
    bank.release(60)
    bank.start(80, 100)
    bank.start(90, 100)
    assert sorted(bank.held(0)) == [70, 80, 90]
    play(bank, 1_000)
    assert bank.sounding == 3


def test_a_flood_of_notes_in_one_moment_keeps_the_newest():
    bank = Bank(KEYS, RATE_HZ, 8)
    for note in range(128):
        bank.start(note, 100)
    assert sorted(bank.held(0)) == list(range(120, 128))
    assert (bank.sounding, bank.dropped) == (8, 0)


def test_when_every_slot_still_fades_the_note_is_refused_and_counted():
    bank = Bank(KEYS, RATE_HZ, 1)
    for note in range(40, 70):
        bank.start(note, 100)
        bank.render(1, UNBENT)
    assert bank.dropped > 0
    play(bank, 1_000)
    bank.start(30, 100)
    assert bank.held(0) == [30]


def test_channels_are_told_apart():
    bank = Bank(KEYS, RATE_HZ, 8)
    bank.start(60, 100, 0)
    bank.start(60, 100, 1)
    bank.release(60, 1)
    assert (bank.held(0), bank.held(1)) == ([60], [])
    bank.choke(0)
    play(bank, RATE_HZ)
    assert bank.sounding == 0


@pytest.mark.parametrize("block", [1, 64, 100, 4096])
def test_the_cut_into_blocks_does_not_matter(block):
    def performance(size):
        bank = Bank(KEYS, RATE_HZ, 8)
        bank.start(57, 90)
        first = play(bank, 2_000, size)
        bank.start(64, 90)
        bank.release(57)
        return np.concatenate((first, play(bank, 4_000, size)))

    np.testing.assert_allclose(performance(block), performance(128), atol=2e-6)
