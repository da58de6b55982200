from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from live.ports.limiter import CEILING, MAX_STEP, Limiter, Volume
from tests import sounds

RATE_HZ = 48_000
DELAY = Limiter.delay_frames


def in_blocks(process, sound, sizes):
    """Process a sound in blocks of the given sizes, over and over."""
    parts, start, turn = [], 0, 0
    while start < len(sound):
        size = sizes[turn % len(sizes)]
        parts.append(process(sound[start : start + size]))
        start, turn = start + size, turn + 1
    return np.concatenate(parts)


def sine(hz, seconds, amplitude, rate_hz=RATE_HZ):
    frame = np.arange(round(seconds * rate_hz))
    return (amplitude * np.sin(2 * np.pi * hz * frame / rate_hz)).astype(np.float32)


NOISE = np.random.default_rng(7).standard_normal(20_000).astype(np.float32)
HOSTILE = {
    "loud noise": 10 * NOISE,
    "bursts": NOISE * (np.arange(20_000) // 500 % 2) * 3,
    "square": np.where(np.arange(20_000) // 55 % 2, 5.0, -5.0).astype(np.float32),
    "alternating samples": np.where(np.arange(20_000) % 2, 1.0, -1.0).astype(np.float32),
    "one sample": np.eye(1, 20_000, 777, dtype=np.float32)[0] * 1e30,
    "constant": np.full(20_000, 0.9, np.float32),
    "swelling": sine(60, 20_000 / RATE_HZ, 1.0) * np.linspace(0, 50, 20_000, dtype=np.float32),
    "not a number": np.full(20_000, np.nan, np.float32),
    "now and then infinite": np.where(NOISE > 2, np.inf, NOISE).astype(np.float32),
    "largest floats": np.where(NOISE > 0, 3.4e38, -3.4e38).astype(np.float32),
}


@pytest.mark.parametrize("sound", HOSTILE.values(), ids=HOSTILE)
def test_whatever_comes_in_level_and_steps_stay_within_limits(sound):
    # Limits: 12 dB below full scale and 0.05 of full scale per sample, the project's own promise.
    out = in_blocks(Limiter(RATE_HZ).process, sound, (128,))
    assert len(out) == len(sound)
    assert np.isfinite(out).all()
    assert sounds.peak(out) <= sounds.CEILING
    assert sounds.largest_step(out) <= sounds.STEP


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.floats(-1e3, 1e3, width=32), min_size=1, max_size=400),
    st.lists(st.integers(1, 90), min_size=1, max_size=5),
)
def test_any_sound_in_any_blocks_stays_within_limits(samples, sizes):
    sound = np.array(samples + [0.0] * DELAY, np.float32)
    out = in_blocks(Limiter(RATE_HZ).process, sound, sizes)
    assert sounds.peak(out) <= CEILING
    assert sounds.largest_step(out) <= MAX_STEP


@pytest.mark.parametrize("hz", [30.0, 110.0, 440.0, 1000.0])
def test_a_quiet_sound_passes_unchanged_after_the_delay(hz):
    quiet = sine(hz, 0.2, 0.2)
    out = in_blocks(Limiter(RATE_HZ).process, quiet, (64,))
    np.testing.assert_array_equal(out[DELAY:], quiet[:-DELAY])
    assert not out[:DELAY].any()


def test_a_loud_tone_keeps_its_shape_and_becomes_as_loud_as_allowed():
    out = in_blocks(Limiter(RATE_HZ).process, sine(100, 1.0, 2.0), (128,))[RATE_HZ // 2 :]
    assert 0.9 * CEILING < sounds.peak(out) <= CEILING
    fundamental = sounds.partial(out, RATE_HZ, 100)
    overtones = math.hypot(*(sounds.partial(out, RATE_HZ, 100 * k) for k in range(2, 9)))
    assert (
        overtones < 0.015 * fundamental
    )  # a clipped sine of this level has above 30 % (by Fourier)


def test_the_gain_comes_back_after_a_loud_moment():
    quiet = sine(200, 2.0, 0.1)
    quiet[4800:9600] *= 20
    out = in_blocks(Limiter(RATE_HZ).process, quiet, (128,))
    just_after = sounds.loudness_db(out[9600 + 1000 : 9600 + 2000])
    at_the_end = sounds.loudness_db(out[-9600:])
    assert just_after < at_the_end - 6
    assert at_the_end == pytest.approx(sounds.loudness_db(quiet[-9600:]), abs=0.1)


@pytest.mark.parametrize("sizes", [(1,), (23, 24, 25), (64,), (500, 1, 77), (20_000,)])
def test_the_cut_into_blocks_does_not_matter(sizes):
    sound = HOSTILE["bursts"]
    whole = in_blocks(Limiter(RATE_HZ).process, sound, (128,))
    np.testing.assert_allclose(in_blocks(Limiter(RATE_HZ).process, sound, sizes), whole, atol=1e-6)


def levels(volume, frames):
    return in_blocks(volume.apply, np.ones(frames, np.float32), (100,))


def test_volume_starts_at_its_level():
    # -20 dB is a tenth (definition of the decibel for amplitudes).
    np.testing.assert_allclose(levels(Volume(RATE_HZ, -20.0), 300), 0.1, rtol=1e-6)


def test_volume_falls_in_ten_milliseconds_and_without_a_step():
    volume = Volume(RATE_HZ, -12.0)
    volume.set(-60.0)
    gains = levels(volume, 4800)
    assert gains[240] > 0.1  # still on its way after 5 ms
    np.testing.assert_allclose(gains[480:], 0.001, rtol=1e-5)
    assert np.abs(np.diff(gains)).max() < 0.25 / 450


def test_volume_rises_by_at_most_three_decibels_in_a_tenth_of_a_second():
    volume = Volume(RATE_HZ, -36.0)
    volume.set(-12.0)
    gains = 20 * np.log10(levels(volume, RATE_HZ))
    assert gains[0] == pytest.approx(-36.0, abs=0.01)
    assert (gains[4800:] - gains[:-4800]).max() <= 3.0 + 1e-3
    assert gains[38_300] < -12.01 < gains[38_500]  # 24 dB take 0.8 s
    np.testing.assert_allclose(gains[38_500:], -12.0, atol=1e-4)


def test_volume_turns_round_in_the_middle_of_a_ramp():
    volume = Volume(RATE_HZ, -30.0)
    volume.set(-12.0)
    before = levels(volume, 4800)[-1]
    volume.set(-30.0)
    after = levels(volume, 480)
    assert before > after[0] > after[-1]
    assert after[-1] == pytest.approx(10 ** (-30 / 20), rel=1e-5)
