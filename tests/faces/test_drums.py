"""Grooves on the command line: named, written out, learned from a file, written to a file."""

from __future__ import annotations

from random import Random

import mido
import pytest

from live.answer.grooves import find_groove, strokes, written
from live.clock.metre import Metre
from live.faces.drums import drum_track, groove_of_file, read_groove
from live.notes.phrase import PhraseNote
from live.ports.files import TrackOut, write_song
from live.theory.errors import FieldError

KEY = ("--key", "D minor")
ROLLING = find_groove("rolling-two-step")


def write_drums(path, groove, bars=8, metre=None, jitter=0.0):
    """A file with a groove on channel 10, by hand or to the tick."""
    random = Random(3)
    notes = tuple(
        PhraseNote(max(0, onset + round(random.gauss(0, jitter))), 100, key, velocity)
        for onset, key, velocity in strokes(groove, bars, metre or groove.metre)
    )
    write_song(path, [TrackOut("drums", 9, notes)], tempo_bpm=172.0, metre=metre or groove.metre)
    return path


def test_a_groove_is_learned_from_a_file_as_it_was_played(tmp_path):
    found = groove_of_file(str(write_drums(tmp_path / "drums.mid", ROLLING, jitter=27.5)))
    assert (found.kick, found.snare, found.ghost) == (ROLLING.kick, ROLLING.snare, ROLLING.ghost)
    assert found.bars == 2


def test_the_answer_is_the_same_over_a_groove_learned_or_written_out(cli, call_mid, tmp_path):
    path = write_drums(tmp_path / "Drums.MID", ROLLING)
    learned = cli("answer", call_mid, *KEY, "--groove", path, "--json").json
    by_hand = cli("answer", call_mid, *KEY, "--groove", written(ROLLING), "--json").json
    assert learned["groove"] == by_hand["groove"] == written(ROLLING)
    assert learned["choices"] == by_hand["choices"]
    plain = cli("answer", call_mid, *KEY, "--groove", "one-drop", "--json").json
    assert plain["groove"] == "one-drop"
    assert plain["choices"] != learned["choices"]
    said = cli("answer", call_mid, *KEY, "--groove", path).out
    assert f"\nover {written(ROLLING)}\n" in said


@pytest.mark.parametrize(
    ("metre", "name"),
    [((4, 4), "two-step"), ((3, 4), "waltz"), ((6, 8), "six-eight"), ((12, 8), "twelve-eight")],
)
def test_unasked_the_groove_is_the_one_of_the_metre(cli, tmp_path, metre, name):
    notes = tuple(PhraseNote(480 * i, 400, 62 + i % 5, 90) for i in range(6))
    path = tmp_path / "call.mid"
    write_song(path, [TrackOut("keys", 0, notes)], tempo_bpm=168.0, metre=Metre(*metre))
    assert cli("answer", path, *KEY, "--json").json["groove"] == name
    # A 4/4 pattern serves in every metre, as it always did.
    assert cli("answer", path, *KEY, "--groove", "two-step", "--json").json["groove"] == "two-step"


def test_drums_of_another_metre_are_refused_by_name(tmp_path):
    path = write_drums(tmp_path / "waltz.mid", find_groove("waltz"))
    assert read_groove(str(path), Metre(3, 4)).kick == (0,)
    with pytest.raises(FieldError) as caught:
        read_groove(str(path), Metre(4, 4))
    assert caught.value.field == "groove"
    assert "two-step" in caught.value.allowed


def test_the_groove_goes_into_the_files_when_asked_for(cli, call_mid, tmp_path):
    words = ("--groove", "late-snare", "--choices", "1", "--json")
    for name, more in (("with", ("--drums",)), ("without", ())):
        found = cli("answer", call_mid, *KEY, *words, "--out", tmp_path / name, *more).json
        file = mido.MidiFile(found["choices"][0]["file"])
        names = [track.name for track in file.tracks]
        assert names == ["tempo", "call", "answer", *(["drums"] if more else [])]
        if more:
            tick, kicks = 0, []
            for message in file.tracks[-1]:
                tick += message.time
                if message.type == "note_on" and message.velocity:
                    assert message.channel == 9
                    kicks += [tick // 240] if message.note == 36 else []
            # Hein 2023, bars 3 and 4 of the Amen break, over two bars of call and two of answer.
            assert kicks == [0, 2, 10, 18, 19, 26, 32, 34, 42, 50, 51, 58]


def test_a_drum_track_is_as_long_as_the_bars():
    track = drum_track(ROLLING, 3, Metre(4, 4))
    assert (track.name, track.channel) == ("drums", 9)
    assert max(note.onset_ticks for note in track.notes) < 3 * 3840
    assert len(track.notes) == len(strokes(ROLLING, 3, Metre(4, 4)))


@pytest.mark.parametrize(
    ("words", "late"),
    [
        (("--groove", "shuffle"), 640),
        (("--groove", "swing 1.5 eighths kick x.....x...x..... hat x.x.x.x.x.x.x.x."), 576),
        (("--groove", "two-step", "--swing", "1"), 640),
        (("--groove", "two-step"), 480),
    ],
)
def test_bass_and_drums_swing_together_in_the_file(cli, call_mid, tmp_path, words, late):
    told = ("--json", "--drums", "--density", "0.7", "--out", tmp_path / "o")
    found = cli("answer", call_mid, *KEY, *words, *told).json
    between = 0
    for choice in found["choices"]:
        onsets = {"answer": set(), "drums": set()}
        for track in mido.MidiFile(choice["file"]).tracks:
            tick = 0
            for message in track:
                tick += message.time
                if message.type == "note_on" and message.velocity and track.name in onsets:
                    onsets[track.name].add(tick)
        assert {tick % 960 for tick in onsets["drums"]} == {0, late}
        eighths = {tick for tick in onsets["answer"] if tick % 960 == late}
        assert eighths <= onsets["drums"]
        between += len(eighths)
    assert between >= 3
