"""Voices and drums for files against those that sound a block at a time."""

from __future__ import annotations

import numpy as np
import pytest

from live.ports.bulk import BulkBank, BulkDrums
from live.ports.drums import Drums
from live.ports.voices import BASS, KEYS, Bank

RATE_HZ = 48_000
NO_BEND = np.ones(16)


def play(bank, script):
    """Runs (frames, what to do then) on a bank; what its blocks said, silence for None."""
    said = []
    for frames, then in script:
        sound = bank.render(frames, NO_BEND)
        said.append(np.zeros(frames, np.float32) if sound is None else sound)
        then(bank)
    return np.concatenate(said)


def nothing(_bank):
    pass


def start(note, velocity=100):
    return lambda bank: bank.start(note, velocity)


def release(note):
    return lambda bank: bank.release(note)


SCRIPTS = {
    "held, released, silent": [(100, start(60)), (5_000, release(60)), (20_000, nothing)],
    "the same key again": [(7, start(60)), (900, start(60)), (900, release(60)), (20_000, nothing)],
    "cut off before a sound": [(7, start(60)), (0, start(60)), (600, nothing)],
    "chords give way": [
        *((0, start(note, 40 + note)) for note in range(48, 60)),
        *((1_300, start(note)) for note in range(60, 70)),
        (1_300, lambda bank: bank.release_all()),
        (30_000, nothing),
    ],
    "all faded": [(10, start(60)), (10, start(64)), (700, Bank.choke), (2_000, nothing)],
    "older than the table": [(10, start(33)), *[(96_000, nothing)] * 6, (9, release(33)),
                             (30_000, nothing)],
}  # fmt: skip


@pytest.mark.parametrize("tone", [KEYS, BASS], ids=["keys", "bass"])
@pytest.mark.parametrize("script", SCRIPTS.values(), ids=SCRIPTS)
def test_it_sounds_as_a_bank_that_renders_at_once(script, tone):
    live, bulk = Bank(tone, RATE_HZ, 8), BulkBank(tone, RATE_HZ, 8)
    expected = play(live, script)
    assert not play(bulk, script).any()
    found = bulk.gather()
    assert np.abs(expected).max() > 0.01 or script is SCRIPTS["all faded"]
    np.testing.assert_array_equal(found, expected)
    assert bulk.sounding == live.sounding
    assert bulk.gather() is None or live.sounding


def test_what_sounds_on_is_gathered_where_it_was_left():
    live, bulk = Bank(KEYS, RATE_HZ, 8), BulkBank(KEYS, RATE_HZ, 8)
    live.start(64, 90)
    bulk.start(64, 90)
    for frames in (1, 1_024, 40_000):
        bulk.render(frames, NO_BEND)
        np.testing.assert_array_equal(bulk.gather(), live.render(frames, NO_BEND))
    assert bulk.held(0) == live.held(0) == [64]


@pytest.mark.parametrize("gather", [1, 5, 1_000])
def test_drums_sound_as_those_that_render_at_once(gather):
    chance = np.random.default_rng(4)
    live, bulk = Drums(RATE_HZ), BulkDrums(RATE_HZ)
    expected, found, since = [], [], 0
    for index in range(400):
        for _ in range(int(chance.integers(0, 4))):
            note, velocity = int(chance.choice([36, 38, 42, 46, 51])), int(chance.integers(1, 128))
            live.start(note, velocity)
            bulk.start(note, velocity)
        frames = int(chance.integers(1, 1_500))
        sound = live.render(frames)
        expected.append(np.zeros(frames, np.float32) if sound is None else sound)
        bulk.render(frames)
        since += frames
        if index % gather == 0 or index == 399:
            sound = bulk.gather()
            found.append(np.zeros(since, np.float32) if sound is None else sound)
            since = 0
        assert bulk.sounding == live.sounding
    assert np.abs(np.concatenate(expected)).max() > 0.5
    np.testing.assert_array_equal(np.concatenate(found), np.concatenate(expected))
