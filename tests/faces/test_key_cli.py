"""`undersong key` on tunes that are not in this repo and that nothing was learned from.

Source: O'Neill's Music of Ireland (1850 tunes), in ABC, as music21 carries it: the key is what its
K: field says. Every 25th tune of the file order, if it is in major or minor, has one voice of 16
notes or more and ends on its tonic.
"""

from __future__ import annotations

import re
from pathlib import Path

import mido
import music21
import pytest

from live.theory.keys import parse_key
from tests.study.key_corpus import LEAST_NOTES, read_tune

FOLDER = Path(music21.__file__).parent / "corpus" / "oneills1850"
EVERY = 25
MODES = {"": "major", "m": "minor"}
TICKS = 480


def tunes():
    """(key, [(onset, length, pitch)]) of the sample; a mode of its own is left out."""
    texts = [
        text
        for file in sorted(FOLDER.glob("*.abc"))
        for text in re.split(r"(?m)^(?=X: ?\d)", file.read_text(encoding="utf-8", errors="replace"))
        if "K:" in text
    ]
    for text in texts[::EVERY]:
        found = re.search(r"(?m)^K: *([A-G][#b]?) *([A-Za-z]*)", text)
        if found is None or found[2] not in MODES:
            continue
        key = parse_key(f"{found[1]} {MODES[found[2]]}")
        notes = sorted(row[:3] for row in read_tune(text))
        if len(notes) >= LEAST_NOTES and notes[-1][2] % 12 == key.tonic_pc:
            yield key, notes


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
    return list(tunes())


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
