from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from live.ports.parts import Bass, DrumKit, Keys
from tests import sounds

RATE_HZ = 48_000


def play(part, frames, block=256):
    parts = []
    for _ in range(0, frames, block):
        sound = part.render(block)
        parts.append(np.zeros(block, np.float32) if sound is None else sound)
    return np.concatenate(parts)


def on(note, velocity=100, channel=0):
    return bytes((0x90 | channel, note, velocity))


def off(note, channel=0):
    return bytes((0x80 | channel, note, 64))


def control(number, value, channel=0):
    return bytes((0xB0 | channel, number, value))


def heard_hz(part, seconds=1.0):
    return sounds.strongest_hz(play(part, round(seconds * RATE_HZ)), RATE_HZ)


def tell(part, *messages):
    for message in messages:
        assert part.handle(message)


def is_silent_within(part, seconds):
    play(part, round(seconds * RATE_HZ))
    return part.sounding == 0


@pytest.fixture
def keys():
    return Keys(RATE_HZ, 16)


@pytest.fixture
def bass():
    return Bass(RATE_HZ)


def test_keys_sound_together(keys):
    chord = (50, 57, 62, 65, 69)
    tell(keys, *(on(note) for note in chord))
    sound = play(keys, RATE_HZ)
    for note in chord:
        wanted_hz = sounds.equal_temperament_hz(note)
        near = sounds.strongest_hz(sound, RATE_HZ, wanted_hz * 0.98, wanted_hz * 1.02)
        assert abs(sounds.cents(near, wanted_hz)) < 3


def test_velocity_0_is_a_release(keys):
    # Source: MIDI 1.0 Detailed Specification, Note On with velocity 0.
    tell(keys, on(60), on(60, 0))
    assert is_silent_within(keys, 0.4)


def test_the_pedal_holds_what_was_let_go(keys):
    # Source: MIDI 1.0, controller 64: 0 to 63 off, 64 to 127 on.
    tell(keys, control(64, 64), on(60), off(60))
    assert not is_silent_within(keys, 2)
    tell(keys, control(64, 63))
    assert is_silent_within(keys, 0.4)


def test_the_pedal_up_keeps_keys_that_are_still_down(keys):
    tell(keys, control(64, 127), on(60), on(64), off(60), control(64, 0))
    play(keys, RATE_HZ)
    assert keys.sounding == 1
    tell(keys, off(64))
    assert is_silent_within(keys, 0.4)


def test_a_key_struck_again_under_the_pedal_is_held_by_the_finger_again(keys):
    tell(keys, control(64, 127), on(60), off(60), on(60), control(64, 0))
    assert not is_silent_within(keys, 1)
    tell(keys, off(60))
    assert is_silent_within(keys, 0.4)


def test_a_pedal_belongs_to_its_channel(keys):
    tell(keys, control(64, 127, 1), on(60, channel=0), off(60, channel=0))
    assert is_silent_within(keys, 0.4)


@pytest.mark.parametrize("number", [123, 124, 125, 126, 127])
def test_all_notes_off_releases_and_respects_the_pedal(keys, number):
    # Source: MIDI 1.0, channel mode messages 123 to 127; Hold holds (same, All Notes Off).
    tell(keys, on(60), on(64), control(number, 0))
    assert is_silent_within(keys, 0.4)
    tell(keys, control(64, 127), on(60), control(number, 0))
    assert not is_silent_within(keys, 0.4)
    tell(keys, control(64, 0))
    assert is_silent_within(keys, 0.4)


def test_all_sound_off_silences_its_channel_pedal_or_not(keys):
    # Source: MIDI 1.0, channel mode message 120.
    tell(keys, control(64, 127), on(60), off(60), on(72, channel=1), control(120, 0))
    play(keys, 1024)
    assert keys.sounding == 1
    tell(keys, control(64, 0))
    assert keys.sounding == 1


def test_reset_all_controllers_lifts_the_pedal_and_centres_the_bend(keys):
    # Source: MIDI 1.0, channel mode message 121.
    tell(keys, control(64, 127), b"\xe0\x7f\x7f", on(69), control(121, 0))
    assert abs(sounds.cents(heard_hz(keys), 440.0)) < 3
    tell(keys, off(69))
    assert is_silent_within(keys, 0.4)


def test_bend_moves_a_note_that_sounds_without_a_step(keys):
    tell(keys, on(69))
    before = play(keys, RATE_HZ // 2)
    tell(keys, b"\xe0\x7f\x7f")
    after = play(keys, RATE_HZ)
    assert abs(sounds.cents(sounds.strongest_hz(after, RATE_HZ), 440.0) - 200) < 3
    steady = 1.2 * sounds.largest_step(before[-2048:])
    assert sounds.largest_step(np.concatenate((before[-512:], after[:512]))) < steady


def test_bend_reaches_its_channel_only(keys):
    tell(keys, b"\xe1\x7f\x7f", on(69, channel=0))
    assert abs(sounds.cents(heard_hz(keys), 440.0)) < 3


def test_panic_forgets_pedal_and_bend(keys):
    tell(keys, control(64, 127), b"\xe0\x00\x00", on(60), on(62))
    play(keys, 4096)
    keys.choke()
    assert is_silent_within(keys, 0.009)
    tell(keys, on(69))
    assert abs(sounds.cents(heard_hz(keys), 440.0)) < 3
    tell(keys, off(69))
    assert is_silent_within(keys, 0.4)


def test_clear_is_silent_at_once(keys):
    tell(keys, on(60))
    play(keys, 1024)
    keys.clear()
    assert keys.render(64) is None


def test_the_bass_plays_one_note_the_last(bass):
    tell(bass, on(40), on(45))
    play(bass, 2048)
    assert bass.sounding == 1
    assert abs(sounds.cents(heard_hz(bass), sounds.equal_temperament_hz(45))) < 3


def test_a_bass_note_still_held_comes_back(bass):
    tell(bass, on(40), on(45), on(47), off(45), off(47))
    play(bass, 2048)
    assert abs(sounds.cents(heard_hz(bass), sounds.equal_temperament_hz(40))) < 3
    tell(bass, off(40))
    assert is_silent_within(bass, 0.1)


def test_a_bass_line_of_touching_notes_has_no_click(bass):
    # The crossing of two notes may step no more than the steeper of the two does by itself.
    parts, steady = [], 0.0
    for note in (33, 40, 38, 45, 33):
        tell(bass, on(note))
        parts.append(play(bass, 9_600, 64))
        steady = max(steady, sounds.largest_step(parts[-1][2_000:]))
        tell(bass, off(note))
    assert sounds.largest_step(np.concatenate(parts)) < 2 * steady


def test_the_bass_ignores_the_pedal(bass):
    tell(bass, control(64, 127), on(40), off(40))
    assert is_silent_within(bass, 0.1)


@pytest.mark.parametrize("message", [control(123, 0), control(120, 0)])
def test_the_bass_obeys_the_mode_messages(bass, message):
    tell(bass, on(40), on(45), message)
    assert is_silent_within(bass, 0.1)
    tell(bass, off(45))
    assert bass.sounding == 0  # nothing comes back


def test_the_bass_bends(bass):
    tell(bass, on(45), b"\xe0\x00\x00")
    wanted_hz = sounds.equal_temperament_hz(43)
    assert abs(sounds.cents(heard_hz(bass), wanted_hz)) < 3


def test_a_drum_ignores_its_release_and_obeys_all_sound_off():
    drums = DrumKit(RATE_HZ)
    tell(drums, on(36, channel=9), off(36, channel=9), control(123, 0), b"\xe0\x00\x00")
    drums.release_all()
    assert sounds.peak(play(drums, 9_600)) > 0.1
    tell(drums, control(120, 0))
    assert is_silent_within(drums, 0.009)


@pytest.mark.parametrize(
    "junk",
    [b"", b"\x90", b"\x90\x3c", b"\x3c\x40\x40", b"\x90\xc8\x40", b"\x90\x3c\x40\x41", b"\xf8"],
)
@pytest.mark.parametrize("make", [lambda: Keys(RATE_HZ, 4), lambda: Bass(RATE_HZ)])
def test_junk_and_system_messages_are_refused(make, junk):
    part = make()
    assert not part.handle(junk)
    assert part.sounding == 0


MESSAGE = st.tuples(
    st.sampled_from([0x80, 0x90, 0x90, 0xB0, 0xE0]), st.integers(0, 3), st.integers(0, 127)
).flatmap(
    lambda m: st.builds(
        lambda last: bytes((m[0] | m[1], m[2], last)),
        st.integers(0, 127),
    )
)


@settings(max_examples=50, deadline=None)
@given(st.lists(MESSAGE, max_size=40), st.sampled_from(["keys", "bass"]))
def test_after_any_messages_release_all_ends_in_silence(messages, which):
    part = Keys(RATE_HZ, 8) if which == "keys" else Bass(RATE_HZ)
    for message in messages:
        assert part.handle(message)
        sound = part.render(17)
        assert sound is None or np.isfinite(sound).all()
    part.release_all()
    assert is_silent_within(part, 0.4)


@settings(max_examples=50, deadline=None)
@given(st.lists(MESSAGE.filter(lambda m: m[0] & 0xF0 != 0xB0), max_size=40))
def test_every_note_ends_once_its_key_is_up(messages):
    part = Keys(RATE_HZ, 64)
    for message in messages:
        part.handle(message)
        part.render(17)
    for note in range(128):
        for channel in range(4):
            part.handle(off(note, channel))
    assert is_silent_within(part, 0.4)
