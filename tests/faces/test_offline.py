"""`snap`, `degrees` and `key` on real tunes, against music21's own reading of the same score."""

from __future__ import annotations

from collections import Counter

import mido
import pytest
from music21 import corpus
from music21 import key as m21_key
from music21 import pitch as m21_pitch

from live.ports.files import read_song
from live.theory.snap import POLICIES

# Chorales that ship with music21, with their keys (key signature and last bass note of the score).
TUNES = {
    "bach/bwv66.6": "F# minor",
    "bach/bwv269": "G major",
    "bach/bwv347": "A major",
    "bach/bwv144.6": "B minor",
}


def m21_name(key_name: str) -> m21_key.Key:
    tonic, mode = key_name.split()
    return m21_key.Key(tonic.replace("b", "-"), mode)


@pytest.fixture(scope="module", params=TUNES)
def tune(request, tmp_path_factory):
    """(score, key name, MIDI file written by music21)."""
    score = corpus.parse(request.param).expandRepeats()
    path = tmp_path_factory.mktemp("tune") / "tune.mid"
    score.write("midi", fp=str(path))
    return score, TUNES[request.param], path


def sounding(score):
    """(beats, MIDI note, spelling) of every note that begins, ties joined."""
    notes = score.stripTies().flatten().notes
    return [
        (float(n.offset), p.midi, p.nameWithOctave.replace("-", "b"))
        for n in notes
        for p in n.pitches
    ]


def test_degrees_are_the_scores_own_notes_with_their_names(cli, tune):
    # Source: music21's corpus (Bach's spelling) and Key.getScaleDegreeAndAccidentalFromPitch.
    score, key_name, path = tune
    spoken = cli("degrees", path, "--key", key_name, "--json")
    assert spoken.code == 0
    rows = spoken.json["notes"]
    assert spoken.json["key"] == key_name
    key = m21_name(key_name)
    found = Counter((round(r["onset_beats"], 3), r["pitch"], r["name"]) for r in rows)
    expected = Counter((round(at, 3), midi, name) for at, midi, name in sounding(score))
    assert found == expected
    inside = {p.pitchClass for p in key.pitches}
    major = m21_key.Key(key.tonic, "major")
    for row in rows:
        assert row["in_scale"] == (row["pitch"] % 12 in inside)
        spelling = m21_pitch.Pitch(row["name"].replace("b", "-"))
        number, accidental = major.getScaleDegreeAndAccidentalFromPitch(spelling)
        sign = {None: "", 1: "#", -1: "b"}[accidental and int(accidental.alter)]
        assert row["degree"] == f"{sign}{number}"


NAMES = {  # The trade's names of the degrees (any theory primer; from memory).
    "1": "tonic", "2": "supertonic", "3": "mediant", "b3": "mediant", "4": "subdominant",
    "5": "dominant", "6": "submediant", "b6": "submediant", "b7": "subtonic", "7": "leading note",
}  # fmt: skip


def test_functions_of_diatonic_notes(cli, tune):
    _, key_name, path = tune
    rows = cli("degrees", path, "--key", key_name, "--json").json["notes"]
    diatonic = [row for row in rows if row["in_scale"]]
    assert len(diatonic) > 50
    assert all(row["function"] == NAMES[row["degree"]] for row in diatonic)


def test_key_of_the_tune(cli, tune):
    _, key_name, path = tune
    spoken = cli("key", path, "--json")
    assert spoken.code == 0
    assert spoken.json["key"] == key_name
    candidates = spoken.json["candidates"]
    assert candidates[0]["key"] == key_name
    chances = [row["probability"] for row in candidates]
    assert len(candidates) == 24
    assert sum(chances) == pytest.approx(1.0)
    assert chances == sorted(chances, reverse=True)
    assert 0.0 <= spoken.json["confidence"] <= 1.0


def test_degrees_without_a_key_uses_the_one_it_finds(cli, tune):
    _, key_name, path = tune
    assert cli("degrees", path, "--json").json["key"] == key_name


def test_snapping_a_tune_moves_only_what_the_score_has_outside_the_key(cli, tune, tmp_path):
    score, key_name, path = tune
    out = tmp_path / "out.mid"
    spoken = cli("snap", path, out, "--key", key_name, "--json")
    assert spoken.code == 0
    inside = {p.pitchClass for p in m21_name(key_name).pitches}
    outside = [midi for _, midi, _ in sounding(score) if midi % 12 not in inside]
    assert spoken.json == {
        "notes": len(sounding(score)),
        "moved": len(outside),
        "muted": 0,
    }
    before, after = read_song(path).notes, read_song(out).notes
    assert len(before) == len(after)
    assert all(note.pitch % 12 in inside for note in after)
    unmoved = Counter((n.onset_ticks, n.pitch) for n in before if n.pitch % 12 in inside)
    assert not unmoved - Counter((n.onset_ticks, n.pitch) for n in after)


def test_snapping_twice_is_snapping_once(cli, tune, tmp_path):
    _, key_name, path = tune
    once, twice = tmp_path / "once.mid", tmp_path / "twice.mid"
    cli("snap", path, once, "--key", key_name)
    assert cli("snap", once, twice, "--key", key_name, "--json").json["moved"] == 0
    assert once.read_bytes() == twice.read_bytes()


@pytest.mark.parametrize("policy", POLICIES)
def test_each_policy_does_what_its_name_says(cli, call_mid, tmp_path, policy):
    out = tmp_path / "out.mid"
    counts = cli("snap", call_mid, out, "--key", "D minor", "--snap", policy, "--json").json
    before, after = read_song(call_mid).notes, read_song(out).notes
    assert counts["notes"] == len(before) == len(after) + counts["muted"]
    # In D minor C#5 and F#4 of the call are outside (key signature of one flat).
    pitches = [n.pitch for n in after if n.channel != 9]
    if policy == "off":
        assert before == after
    elif policy == "mute":
        assert counts["muted"] == 2
        assert 73 not in pitches
    elif policy == "white":
        assert counts["muted"] == 3  # B flat, C sharp and F sharp are black keys
    elif policy == "order":
        assert counts["muted"] == 0
    elif policy in ("nearest", "chord"):
        # A tie: follow the direction. F#4 comes from F4 (up to G4), C#5 from B flat (up to D5).
        assert pitches[2] == 67
        assert pitches[5] == 74
    else:
        assert pitches[2] == (67 if policy == "up" else 65)
        assert pitches[5] == (74 if policy == "up" else 72)
    assert [n for n in after if n.channel == 9] == [n for n in before if n.channel == 9]


def test_chord_policy_follows_the_progression(cli, call_mid, tmp_path):
    out = tmp_path / "out.mid"
    words = ("--key", "D minor", "--snap", "chord", "--progression", "i iv")
    assert cli("snap", call_mid, out, *words).code == 0
    notes = [n for n in read_song(out).notes if n.channel != 9]
    d_minor, g_minor = {2, 5, 9}, {7, 10, 2}  # D F A; G B flat D
    assert {n.pitch % 12 for n in notes if n.onset_ticks < 3840} <= d_minor
    assert {n.pitch % 12 for n in notes if n.onset_ticks >= 3840} <= g_minor


def test_chord_policy_without_a_progression_says_what_it_does(cli, call_mid, tmp_path):
    spoken = cli("snap", call_mid, tmp_path / "o.mid", "--key", "D minor", "--snap", "chord")
    assert "no progression was given" in spoken.out


def test_snap_keeps_everything_that_is_no_note(cli, call_mid, tmp_path):
    out = tmp_path / "out.mid"
    cli("snap", call_mid, out, "--key", "D minor", "--snap", "up")

    def others(path):
        file = mido.MidiFile(path)
        return [
            (i, msg) for i, track in enumerate(file.tracks) for msg in track
            if msg.type not in ("note_on", "note_off")
        ]  # fmt: skip

    assert others(call_mid) == others(out)
    assert len(others(call_mid)) > 5


def test_snap_may_write_over_its_own_input(cli, call_mid):
    assert cli("snap", call_mid, call_mid, "--key", "D minor", "--json").json["moved"] == 2
    assert cli("snap", call_mid, call_mid, "--key", "D minor", "--json").json["moved"] == 0


def test_text_for_people(cli, call_mid, tmp_path):
    lines = cli("degrees", call_mid, "--key", "D minor").out.splitlines()
    assert lines[0] == "D minor (given): 13 notes, 2 outside the key (marked !)"
    assert lines[1] == " bar  beat     note  degree  function        works  leans to"
    assert lines[2] == "   1  1.00     D4    1       tonic           home"
    assert lines[4] == "   1  2.00  !  F♯4   3       raised mediant  home   4"
    assert lines[10] == "   2  1.00     A4    5       dominant        pull"
    key_lines = cli("key", call_mid).out.splitlines()
    assert key_lines[0].startswith("D minor (confidence 0.")
    assert len(key_lines) == 6
    said = cli("snap", call_mid, tmp_path / "o.mid", "--key", "D minor").out
    assert said == f"{tmp_path / 'o.mid'}: 14 notes, 2 moved, 0 silent, in D minor\n"


def test_a_file_without_notes_has_degrees_in_a_given_key_only(cli, tmp_path):
    path = tmp_path / "silent.mid"
    mido.MidiFile(tracks=[mido.MidiTrack()]).save(path)
    assert cli("degrees", path, "--key", "C", "--json").json == {"key": "C major", "notes": []}
    assert cli("degrees", path, "--json").code == 2
    assert cli("degrees", path, "--key", "C").out == "C major (given): 0 notes\n"


def test_a_note_just_before_a_bar_line_stands_on_it(cli, tmp_path):
    # 480 ticks a quarter, 4/4: 1919 is one tick before the second bar.
    path = tmp_path / "early.mid"
    track = mido.MidiTrack()
    for wait, note in ((1890, 60), (29, 62)):
        track.append(mido.Message("note_on", note=note, velocity=64, time=wait))
        track.append(mido.Message("note_off", note=note, time=0))
    mido.MidiFile(tracks=[track], ticks_per_beat=480).save(path)
    rows = cli("degrees", path, "--key", "C").out.splitlines()[2:]
    assert [row.split()[:2] for row in rows] == [["1", "4.94"], ["2", "1.00"]]
