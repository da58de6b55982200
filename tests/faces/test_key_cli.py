"""`undersong key` on tunes that are not in this repo and that nothing was learned from."""

from __future__ import annotations

import mido
import pytest

from live.theory.keys import parse_key
from tests.oneills import judging_tunes

TICKS = 480


def write_tune(path, notes):
    file = mido.MidiFile(ticks_per_beat=TICKS)
    track = file.add_track("tune")
    events = [(round(o * TICKS), 1, p) for o, _, p in notes]
    events += [(round((o + length) * TICKS), 0, p) for o, length, p in notes]
    now = 0
    for tick, on, pitch in sorted(events):
        track.append(mido.Message("note_on", note=pitch, velocity=80 * on, time=tick - now))
        now = tick
    file.save(path)


@pytest.fixture(scope="module")
def sample():
    return list(judging_tunes(every=25))


def test_key_names_the_key_of_tunes_it_has_never_met(cli, sample, tmp_path):
    assert len(sample) >= 50
    right = 0
    for key, notes in sample:
        write_tune(tmp_path / "tune.mid", notes)
        said = cli("key", tmp_path / "tune.mid", "--json").json
        assert said["confidence"] == said["candidates"][0]["probability"]
        found = parse_key(said["key"])
        right += (found.tonic_pc, found.scale) == (key.tonic_pc, key.scale)
    assert right >= 0.95 * len(sample)
