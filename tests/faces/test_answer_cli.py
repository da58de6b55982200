"""`answer`: the contract's JSON, the files it writes, and what it says."""

from __future__ import annotations

from itertools import pairwise

import mido
import pretty_midi
import pytest
from music21 import chord as m21_chord
from music21 import harmony as m21_harmony

from live.faces.answer_cli import call_of
from live.notes.phrase import PhraseNote
from live.ports.files import TrackOut, read_song, write_song

KEY = ("--key", "D minor")
PROGRESSION = ("--progression", "i VI iv v")


def test_json_has_the_shape_of_the_contract(cli, call_mid):
    found = cli("answer", call_mid, *KEY, *PROGRESSION, "--json").json
    assert set(found) >= {"key", "tempo", "call", "chords", "choices"}
    assert found["chords"] == [
        {"onset_beats": 0.0, "chord": "Gm"},
        {"onset_beats": 4.0, "chord": "Am"},
    ]
    assert found["key"] == "D minor"
    assert found["tempo"] == 168.0
    assert found["call"]["bars"] == 2
    assert [n["pitch"] for n in found["call"]["notes"]] == [
        62, 65, 66, 69, 70, 73, 74, 72, 69, 67, 65, 64, 62,
    ]  # fmt: skip
    assert [c["rank"] for c in found["choices"]] == [1, 2, 3]
    for choice in found["choices"]:
        assert 0.0 <= choice["score"] <= 1.0
        assert choice["reasons"]
        assert choice["file"] is None
        assert choice["notes"]
        for note in choice["notes"]:
            assert set(note) == {
                "onset_beats", "length_beats", "pitch", "velocity", "degree", "chord_role",
            }  # fmt: skip
            assert 0.0 <= note["onset_beats"] < 8.0
            assert note["onset_beats"] + note["length_beats"] <= 8.0
            assert 28 <= note["pitch"] <= 55
            assert 1 <= note["velocity"] <= 96


def test_chord_roles_and_degrees_against_music21(cli, call_mid):
    # Source: music21's chord symbols; the answer's bars 3 and 4 stand on iv and v of D minor.
    chords = [m21_harmony.ChordSymbol("Gm"), m21_harmony.ChordSymbol("Am")]
    degrees = {0: "1", 2: "2", 3: "b3", 5: "4", 7: "5", 8: "b6", 10: "b7"}
    found = cli("answer", call_mid, *KEY, *PROGRESSION, "--choices", "8", "--json").json
    checked = 0
    for choice in found["choices"]:
        for note in choice["notes"]:
            symbol = chords[int(note["onset_beats"] // 4)]
            tones = m21_chord.Chord(symbol.pitches)
            roles = {
                tones.root().pitchClass: "R",
                tones.third.pitchClass: "b3",
                tones.fifth.pitchClass: "5",
            }
            if note["pitch"] % 12 in roles:
                assert note["chord_role"] == roles[note["pitch"] % 12]
                checked += 1
            assert note["degree"] == degrees[(note["pitch"] - 2) % 12]
    assert checked > 20


def test_range_bars_and_choices_are_kept(cli, call_mid):
    words = ("--range", "E2:E3", "--bars", "1", "--choices", "5", "--groove", "half-time")
    found = cli("answer", call_mid, *KEY, *words, "--json").json
    assert len(found["choices"]) == 5
    for choice in found["choices"]:
        assert all(40 <= note["pitch"] <= 52 for note in choice["notes"])
        assert all(note["onset_beats"] < 4.0 for note in choice["notes"])


def test_same_seed_same_notes_other_seed_other_notes(cli, call_mid):
    def pitches(seed):
        found = cli("answer", call_mid, *KEY, "--seed", seed, "--json").json
        return [[(n["onset_beats"], n["pitch"]) for n in c["notes"]] for c in found["choices"]]

    assert pitches(1) == pitches(1)
    assert any(pitches(1) != pitches(seed) for seed in (2, 3, 4))


def test_harmony_is_inferred_without_a_progression(cli, call_mid):
    found = cli("answer", call_mid, *KEY, "--json").json
    roles = [note["chord_role"] for c in found["choices"] for note in c["notes"]]
    assert roles.count("R") > 0


def test_files_hold_call_then_answer_on_the_bar_line(cli, call_mid, tmp_path):
    # Read by two other libraries: mido for the file's form, pretty_midi for its times.
    out = tmp_path / "new" / "answers"
    found = cli("answer", call_mid, *KEY, *PROGRESSION, "--out", out, "--json").json
    files = sorted(out.iterdir())
    assert [str(f) for f in files] == sorted(c["file"] for c in found["choices"])
    bar_line_s = 8 * 60 / 168
    for choice in found["choices"]:
        file = mido.MidiFile(choice["file"])
        assert file.type == 1
        metas = [m for track in file.tracks for m in track if m.is_meta]
        assert [round(mido.tempo2bpm(m.tempo), 2) for m in metas if m.type == "set_tempo"] == [168]
        assert [m.key for m in metas if m.type == "key_signature"] == ["Dm"]
        assert [track.name for track in file.tracks][1:] == ["call", "answer"]
        parts = {i.name: i.notes for i in pretty_midi.PrettyMIDI(choice["file"]).instruments}
        assert len(parts["call"]) == 13
        assert [n.pitch for n in parts["answer"]] == [n["pitch"] for n in choice["notes"]]
        starts = [n.start for n in parts["answer"]]
        expected = [bar_line_s + n["onset_beats"] * 60 / 168 for n in choice["notes"]]
        assert starts == pytest.approx(expected, abs=0.001)
        assert max(n.end for n in parts["call"]) <= bar_line_s


def test_text_shows_call_choices_reasons_and_files(cli, call_mid, tmp_path):
    said = cli("answer", call_mid, *KEY, "--out", tmp_path / "o").out
    assert said.startswith("call in D minor, 4/4, 168 BPM: 2 bars, 13 notes\nover two-step\n")
    assert "\nchords guessed from the call\n" in said
    assert said.count("\n   chord |") + said.count("\n    chord |") == 3
    told = cli("answer", call_mid, *KEY, *PROGRESSION).out
    assert "guessed" not in told
    assert [line.split("|")[1:3] for line in told.splitlines() if "chord |" in line] == [
        ["Gm".ljust(32), "Am".ljust(32)]
    ] * 3
    for rank in (1, 2, 3):
        assert f"\n{rank}  " in said
        assert f"call-answer-{rank}.mid" in said
    assert said.count("(score 0.") + said.count("(score 1.") == 3
    assert said.count("\n   - ") >= 3


@pytest.mark.parametrize(
    ("notes", "bars"),
    [
        ([], 1),
        ([(0, 960)], 1),
        ([(0, 3840)], 1),
        ([(0, 3840 + 240)], 1),  # rings a sixteenth over the bar line
        ([(0, 3840 + 241)], 2),
        ([(3840, 10)], 2),
        ([(3839, 10)], 1),
        ([(5000, 3000)], 3),
    ],
)
def test_the_call_is_rounded_up_to_whole_bars(tmp_path, notes, bars):
    path = tmp_path / "x.mid"
    phrase = tuple(PhraseNote(onset, length, 60, 90) for onset, length in notes)
    write_song(path, [TrackOut("keys", 0, phrase)])
    assert call_of(read_song(path)).bars == bars


def test_an_empty_call_is_answered_too(cli, tmp_path):
    path = tmp_path / "empty.mid"
    write_song(path, [TrackOut("keys", 0, ())], tempo_bpm=174.0)
    found = cli("answer", path, "--key", "F# dorian", "--json").json
    assert found["key"] == "F# dorian"
    assert found["call"] == {"bars": 1, "notes": []}
    assert len(found["choices"]) == 3


def test_a_long_call_gets_an_answer_of_at_most_sixteen_bars(cli, tmp_path):
    path = tmp_path / "long.mid"
    notes = tuple(PhraseNote(bar * 3840, 900, 60 + bar % 5, 90) for bar in range(40))
    write_song(path, [TrackOut("keys", 0, notes)])
    found = cli("answer", path, "--key", "C", "--choices", "1", "--json").json
    assert found["call"]["bars"] == 40
    assert max(n["onset_beats"] for n in found["choices"][0]["notes"]) < 64


def test_a_call_far_longer_than_a_song_is_refused_at_once(cli, tmp_path):
    path = tmp_path / "endless.mid"
    far = PhraseNote(60_000 * 3840, 900, 62, 90)
    write_song(path, [TrackOut("keys", 0, (PhraseNote(0, 900, 60, 90), far))])
    refused = cli("answer", path, *KEY)
    assert refused.code == 2
    assert "call: got 60001; allowed: at most 1024 bars" in refused.err


def test_an_answer_opens_in_the_drum_less_call_only(cli, call_mid):
    # The call's drum note (channel 10, General MIDI) is no part of the call.
    found = cli("answer", call_mid, *KEY, "--json").json
    assert 37 not in [n["pitch"] for n in found["call"]["notes"]]


def test_controls_reach_the_answer(cli, call_mid):
    def notes(*options):
        found = cli("answer", call_mid, *KEY, "--choices", "1", "--json", *options).json
        return found["choices"][0]["notes"]

    assert len(notes("--density", "0")) < len(notes("--density", "1"))
    assert notes("--closing", "1")[-1]["degree"] == "1"
    assert notes("--closing", "0")[-1]["degree"] != "1"
    onsets = [note["onset_beats"] for note in notes("--octave-double")]
    assert len(onsets) > len(set(onsets))
    walked = [note["pitch"] for note in notes("--walk-up")][-3:]
    assert all(1 <= b - a <= 3 for a, b in pairwise(walked))


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--groove", "shuffle"), "over shuffle, eighths swung 2 to 1"),
        (("--groove", "two-step", "--swing", "1"), "over two-step, eighths swung 2 to 1"),
        (("--groove", "two-step"), "over two-step"),
    ],
)
def test_the_swing_is_said(cli, call_mid, words, said):
    assert said in cli("answer", call_mid, *KEY, *words).out.splitlines()


@pytest.mark.parametrize("value", ["1.5", "-0.1", "much", "nan"])
@pytest.mark.parametrize("dial", ["contrast", "swing"])
def test_a_dial_beyond_its_range_is_refused(cli, call_mid, dial, value):
    found = cli("answer", call_mid, *KEY, f"--{dial}={value}")
    assert found.code == 2
    assert dial in found.err
    assert "0 to 1" in found.err


def _crowd():
    return [(i * 37 % 3840, i % 300, i * 7 % 128) for i in range(2000)]


BAD_CALLS = {
    "overlapping": [(0, 1920, 60), (240, 1920, 60), (480, 3000, 62), (480, 100, 62)],
    "of no length": [(480 * i, 0, 60 + i) for i in range(4)],
    "2000 notes in a bar": _crowd(),
    "at both ends of MIDI": [(480 * i, 400, p) for i, p in enumerate((0, 127, 1, 126))],
}


@pytest.mark.parametrize("played", BAD_CALLS.values(), ids=BAD_CALLS)
def test_calls_that_no_hand_plays_are_answered_and_written_whole(cli, tmp_path, played):
    path = tmp_path / "call.mid"
    track = mido.MidiTrack()
    rows = sorted(
        (tick, place, kind, pitch)
        for onset, length, pitch in played
        for tick, place, kind in (
            (onset, 1, "note_on"),
            (onset + length, 2 if not length else 0, "note_off"),
        )
    )
    before = 0
    for tick, _, kind, pitch in rows:
        track.append(mido.Message(kind, note=pitch, velocity=64, time=tick - before))
        before = tick
    song = mido.MidiFile(type=1, ticks_per_beat=960)
    song.tracks.append(track)
    song.save(path)
    found = cli("answer", path, *KEY, "--out", tmp_path / "o", "--json").json
    assert len(found["call"]["notes"]) == len(played)
    for choice in found["choices"]:
        notes = choice["notes"]
        ends = [n["onset_beats"] + n["length_beats"] for n in notes]
        starts = [n["onset_beats"] for n in notes[1:]]
        assert all(end <= start for end, start in zip(ends, starts, strict=False))
        assert all(28 <= n["pitch"] <= 55 for n in notes)
        for part in mido.MidiFile(choice["file"]).tracks[1:]:
            on = sum(m.type == "note_on" and m.velocity > 0 for m in part)
            assert on == sum(m.type == "note_off" for m in part) > 0


@pytest.mark.parametrize(("tempo_bpm", "code"), [(20, 0), (400, 0), (19, 2), (450, 2)])
def test_the_tempo_of_the_file_may_be_20_to_400(cli, tmp_path, tempo_bpm, code):
    path = tmp_path / "call.mid"
    notes = tuple(PhraseNote(480 * i, 400, 62 + i, 90) for i in range(6))
    write_song(path, [TrackOut("keys", 0, notes)], tempo_bpm=tempo_bpm)
    found = cli("answer", path, *KEY, "--swing", "1", "--progression", "i VI iv v i VI iv v")
    assert found.code == code
    assert ("tempo: got" in found.err and "20 to 400" in found.err) == (code == 2)
