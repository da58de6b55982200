from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from live.ports.synth import (
    DEFAULT_LEVEL_DB,
    MOST_PENDING,
    VOICES,
    Synth,
)
from live.theory.errors import FieldError
from tests import sounds

RATE_HZ = 48_000
DELAY = Synth.delay_frames


def on(note, velocity=100):
    return bytes((0x90, note, velocity))


def off(note):
    return bytes((0x80, note, 64))


def render(synth, frames, block=128):
    parts = [synth.render(min(block, frames - start)) for start in range(0, frames, block)]
    return np.concatenate(parts)


def onset(sound, part_of_peak=0.02):
    """First frame that is louder than a part of the peak."""
    mono = np.abs(sound[:, 0])
    return int(np.argmax(mono > part_of_peak * mono.max()))


# Limits


def test_ten_seconds_of_silence_at_the_start():
    assert not render(Synth(RATE_HZ), 10 * RATE_HZ, 4800).any()


def test_it_starts_quiet():
    # One key at full velocity peaks at the default level: 24 dB below full scale, our promise.
    synth = Synth(RATE_HZ)
    synth.event("keys", on(60, 127))
    peak_db = 20 * math.log10(sounds.peak(render(synth, RATE_HZ)))
    assert DEFAULT_LEVEL_DB == -24
    assert -30 < peak_db <= -24


@pytest.mark.parametrize("level_db", [-60.0, -24.0, -12.0])
def test_128_voices_stay_within_the_limits(level_db):
    synth = Synth(RATE_HZ, level_db, voices=128)
    for note in range(128):
        synth.event("keys", on(note, 127))
    for frame in range(0, 2_000, 10):
        synth.event("drums", on((36, 38, 42)[frame % 3], 127), frame)
        synth.event("bass", on(24 + frame % 30, 127), frame)
    sound = render(synth, RATE_HZ)
    assert synth.sounding >= 128
    assert sounds.peak(sound) <= sounds.CEILING
    assert sounds.largest_step(sound) <= sounds.STEP


@pytest.mark.parametrize("poison", [math.nan, math.inf, -1e38])
def test_a_broken_gain_never_reaches_the_loudspeaker(poison, monkeypatch):
    synth = Synth(RATE_HZ, -12.0)
    for note in (40, 50, 60):
        synth.event("keys", on(note, 127))
    before = render(synth, 4_800)
    monkeypatch.setattr(synth._volume, "_gain", poison)
    monkeypatch.setattr(synth._volume, "_aim", poison)
    with np.errstate(all="ignore"):
        after = render(synth, 4_800)
    sound = np.concatenate((before, after))
    assert np.isfinite(sound).all()
    assert sounds.peak(sound) <= sounds.CEILING
    assert sounds.largest_step(sound) <= sounds.STEP


EVENT = st.tuples(
    st.sampled_from(VOICES),
    st.one_of(
        st.builds(on, st.integers(0, 127), st.integers(0, 127)),
        st.builds(off, st.integers(0, 127)),
        st.builds(lambda n, v: bytes((0xB0, n, v)), st.integers(0, 127), st.integers(0, 127)),
        st.builds(lambda low, high: bytes((0xE0, low, high)), *2 * (st.integers(0, 127),)),
        st.binary(max_size=4),
    ),
    st.integers(-50, 3_000),
)


@settings(max_examples=60, deadline=None)
@given(st.lists(EVENT, max_size=60), st.integers(1, 300), st.sampled_from([-60.0, -12.0]))
def test_whatever_is_played_stays_within_the_limits(events, block, level_db):
    synth = Synth(RATE_HZ, level_db, voices=16)
    for event in events:
        synth.event(*event)
    sound = render(synth, 4_000, block)
    assert np.isfinite(sound).all()
    assert sounds.peak(sound) <= sounds.CEILING
    assert sounds.largest_step(sound) <= sounds.STEP


def test_a_jump_of_the_level_is_no_click():
    synth = Synth(RATE_HZ, -12.0)
    synth.event("keys", on(57, 127))
    parts = [render(synth, 9_600)]
    steady = sounds.largest_step(parts[0])
    for level_db in (-60.0, -12.0, -60.0):
        synth.set_level(level_db)
        parts.append(render(synth, 9_600))
    assert sounds.largest_step(np.concatenate(parts)) <= steady


# Notes


def test_both_sides_are_the_same():
    synth = Synth(RATE_HZ)
    for voice in VOICES:
        synth.event(voice, on(36))
    sound = render(synth, 4_800)
    assert sound.shape == (4_800, 2)
    assert sound.dtype == np.float32
    np.testing.assert_array_equal(sound[:, 0], sound[:, 1])


@pytest.mark.parametrize("voice", ["keys", "bass"])
def test_pitch_at_the_output(voice):
    # Source: ISO 16:1975, A4 = 440 Hz.
    synth = Synth(RATE_HZ)
    synth.event(voice, on(45))
    measured_hz = sounds.strongest_hz(render(synth, 2 * RATE_HZ)[:, 0], RATE_HZ)
    assert abs(sounds.cents(measured_hz, 110.0)) < 3


@pytest.mark.parametrize("offset", [0, 1, 63, 127, 128, 5_000])
def test_an_event_sounds_on_its_frame(offset):
    def played(frame_offset):
        synth = Synth(RATE_HZ)
        synth.event("keys", on(60), frame_offset)
        return render(synth, 9_600)[:, 0]

    at_once = played(0)
    assert not at_once[: DELAY + 1].any()
    np.testing.assert_allclose(played(offset)[offset:], at_once[: 9_600 - offset], atol=1e-6)
    assert not played(offset)[: offset + DELAY + 1].any()


def test_messages_for_one_frame_keep_their_order():
    synth = Synth(RATE_HZ)
    for message in (on(60), off(60), on(60), b"\xb0\x40\x7f", off(60)):
        synth.event("keys", message, 500)
    render(synth, RATE_HZ)
    assert synth.sounding == 1  # the pedal went down before the last release


def test_a_released_note_ends_in_exact_silence():
    synth = Synth(RATE_HZ)
    for voice in VOICES:
        synth.event(voice, on(36))
        synth.event(voice, off(36), 9_600)
    render(synth, 2 * RATE_HZ)
    assert synth.sounding == 0
    assert not render(synth, 4_800).any()


def test_panic_is_silence_in_ten_milliseconds_without_a_click_and_forgets_the_future():
    synth = Synth(RATE_HZ, -12.0)
    for note in (36, 43, 48):
        for voice in VOICES:
            synth.event(voice, on(note, 127))
            synth.event(voice, on(note + 1, 127), 9_600)
    before = render(synth, 4_800)
    synth.panic()
    after = render(synth, RATE_HZ)
    assert sounds.peak(before[-100:]) > 0.01
    assert not after[480:].any()
    assert sounds.largest_step(np.concatenate((before, after))) <= sounds.STEP
    assert synth.sounding == 0


def test_cancel_takes_back_one_voice_only():
    synth = Synth(RATE_HZ)
    synth.event("drums", on(36), 4_800)
    synth.event("keys", on(60), 4_800)
    synth.event("bass", on(40))
    render(synth, 128)
    synth.cancel("drums")
    synth.cancel("bass")
    render(synth, RATE_HZ)
    assert synth.sounding == 1  # the key


def test_reset_is_silent_at_once():
    synth = Synth(RATE_HZ)
    for voice in VOICES:
        synth.event(voice, on(36))
        synth.event(voice, on(38), 1_000)
    render(synth, 512)
    synth.reset()
    assert synth.sounding == 0
    assert not render(synth, 4_800)[DELAY:].any()


# The same events, the same samples


def performance(block, seed=5):
    chance = np.random.default_rng(seed)
    synth = Synth(RATE_HZ, -12.0)
    for frame in sorted(chance.integers(0, 20_000, 80).tolist()):
        note = int(chance.integers(30, 90))
        voice = VOICES[int(chance.integers(3))]
        synth.event(voice, on(36 if voice == "drums" else note), frame)
        synth.event(voice, off(note), frame + 3_000)
    return render(synth, 24_000, block)


def test_two_runs_are_equal_to_the_bit():
    np.testing.assert_array_equal(performance(128), performance(128))
    assert not np.array_equal(performance(128), performance(128, seed=6))


@pytest.mark.parametrize("block", [17, 64, 441, 24_000])
def test_the_cut_into_blocks_does_not_matter(block):
    np.testing.assert_allclose(performance(block), performance(128), atol=1e-5)


def test_no_frames_are_no_frames():
    assert Synth(RATE_HZ).render(0).shape == (0, 2)


# Bad input


def test_junk_is_counted_and_ignored():
    synth = Synth(RATE_HZ)
    for junk in (b"", b"\x90\x3c", b"\xff\xff\xff", b"\xf0\x01\xf7"):
        synth.event("keys", junk)
    assert not render(synth, 1_000).any()
    assert synth.refused == 4


def test_the_future_is_bounded_and_releases_always_fit():
    synth = Synth(RATE_HZ)
    for _ in range(MOST_PENDING + 10):
        synth.event("keys", on(60), 10**9)
    synth.event("keys", off(60), 10**9)
    assert synth.refused == 10
    assert len(synth._pending) == MOST_PENDING + 1


@pytest.mark.parametrize(
    ("make", "field"),
    [
        (lambda: Synth(8_000), "sample rate"),
        (lambda: Synth(RATE_HZ, 0.0), "sound level"),
        (lambda: Synth(RATE_HZ, math.nan), "sound level"),
        (lambda: Synth(RATE_HZ, -24.0, 0), "voices"),
        (lambda: Synth(RATE_HZ).set_level(-11.9), "sound level"),
        (lambda: Synth(RATE_HZ).event("organ", on(60)), "voice"),
    ],
)
def test_values_out_of_range_are_named(make, field):
    with pytest.raises(FieldError) as caught:
        make()
    assert caught.value.field == field
