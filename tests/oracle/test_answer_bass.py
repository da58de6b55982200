"""Bass lines over drums: the features by hand, the music beside another reader, the shipped bands.

Music: the Debian package freedoom (BSD-3-Clause).
"""

from __future__ import annotations

import struct
from io import BytesIO
from pathlib import Path

import mido
import pytest

from live.answer.bass_table import LINE_BANDS, TRACK_BANDS
from tests.study.bass_corpus import (
    FEATURES,
    bass_pairs,
    bass_tracks,
    bass_windows,
    line_features,
)
from tests.study.bass_fit import TABLE, table_text
from tests.study.package_music import DOOM, wad_music

TWO_STEP = frozenset({0, 10, 16, 26})
BACKBEAT = frozenset({4, 12, 20, 28})
"""Kick on 1 and the 'and' of 3, snare on 2 and 4: three teaching pages that agree."""


def test_features_of_a_line_worked_by_hand() -> None:
    # Eight notes: on steps 0 and 10 and 16 with the kick (3 of 4 kicks), on step 12 with the snare.
    line = ((0, 38), (2, 38), (10, 38), (12, 45), (16, 38), (18, 38), (22, 50), (24, 52))
    found = line_features(line, TWO_STEP, BACKBEAT)
    assert found == {
        "kicks": 3 / 4,
        "on kick": 3 / 8,
        "on snare": 1 / 8,
        "repeats": 3 / 7,  # moves 0 0 7 -7 0 12 2
        "turns": 1 / 3,  # 7 turns to -7, -7 is followed by a repeat, 12 goes on up
        "likeness": 1 - 4 / 16,  # bars {0 2 10 12} and {0 2 6 8}: 6, 8, 10 and 12 differ
        "notes a bar": 4.0,
    }


def test_a_feature_without_an_occasion_is_left_out() -> None:
    assert line_features(((0, 38),), frozenset(), frozenset()) == {
        "likeness": 1 - 1 / 16,
        "notes a bar": 0.5,
    }


def test_music_is_found_by_the_directory_of_a_wad(tmp_path: Path) -> None:
    # A WAD by its published layout: letters, count and place of the directory; entries of 16 bytes.
    lumps = [(b"D_ONE", b"MThd one"), (b"MAP01", b"no music"), (b"D_TWO", b"MThd and two")]
    body, entries = b"", b""
    for name, data in lumps:
        entries += struct.pack("<II8s", 12 + len(body), len(data), name)
        body += data
    path = tmp_path / "small.wad"
    path.write_bytes(struct.pack("<4sII", b"PWAD", len(lumps), 12 + len(body)) + body + entries)
    assert list(wad_music(path)) == [
        ("small:D_ONE", b"MThd one"),
        ("small:D_TWO", b"MThd and two"),
    ]


@pytest.mark.parametrize("name", ["freedoom1:D_E2M8", "freedoom2:D_ADRIAN", "freedoom1:D_E3M7"])
def test_bass_and_drums_are_read_as_mido_reads_them(name: str) -> None:
    wad, _, _ = name.partition(":")
    song = mido.MidiFile(file=BytesIO(dict(wad_music(DOOM / f"{wad}.wad"))[name]), clip=True)
    (track,) = [track for track in bass_tracks("freedoom") if track.name.startswith(name + ":")]
    _, _, number, channel = track.name.split(":")
    tick, lowest, drums = 0, dict[int, int](), 0
    for message in song.tracks[int(number)]:
        tick += message.time
        if message.type == "note_on" and message.velocity and message.channel == int(channel) - 1:
            step = round(tick / song.ticks_per_beat * 4)
            lowest[step] = min(message.note, lowest.get(step, 127))
    for part in song.tracks:
        drums += sum(m.type == "note_on" and m.velocity > 0 and m.channel == 9 for m in part)
    assert {note.onset_ticks // 240: note.pitch for note in track.notes} == lowest
    assert len(track.drums) == drums > 0


def test_no_note_of_a_track_overlaps_the_next() -> None:
    for track in bass_tracks("freedoom"):
        ends = [note.onset_ticks + note.length_ticks for note in track.notes]
        assert all(
            end <= after.onset_ticks for end, after in zip(ends, track.notes[1:], strict=False)
        )


def test_pairs_follow_one_another_and_are_no_copies() -> None:
    pairs = bass_pairs("freedoom")
    assert len(pairs) > 300
    for pair in pairs:
        assert pair.answer.track is pair.call.track
        assert pair.answer.first_bar == pair.call.first_bar + 2
        assert pair.answer.bass != pair.call.bass
        assert all(0 <= note.onset_ticks < 7680 for note in (*pair.call.notes, *pair.answer.notes))
    assert len(bass_pairs("freedoom", literal=True)) > len(pairs)


def test_the_shipped_bands_are_what_the_study_measures() -> None:
    assert table_text(bass_windows("freedoom")) == TABLE.read_text(encoding="utf-8")
    assert set(LINE_BANDS) == set(TRACK_BANDS) == set(FEATURES)
