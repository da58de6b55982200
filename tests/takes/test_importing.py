"""Files become takes and come back; the files are made and read by mido."""

from contextlib import closing
from pathlib import Path

import mido
import pytest

from live.clock.metre import Metre
from live.ports.files import FileNote, SongFile
from live.takes.export import export_take
from live.takes.importing import import_song, song_records, unplayable_tempos
from live.takes.journal import list_takes, read_take
from live.theory.errors import FieldError
from tests.takes import smf
from tests.takes.streams import SECOND, fact, journalled, note, start


def write(path: Path, *tracks, meta=()):
    """A type 1 file at 480 ticks a beat; notes are (onset, length, pitch, channel) in ticks."""
    song = mido.MidiFile(type=1, ticks_per_beat=480)
    song.tracks.append(mido.MidiTrack(meta))
    for name, notes in tracks:
        edges = []
        for onset, length, pitch, channel in notes:
            edges.append((onset, 1, mido.Message("note_on", note=pitch, channel=channel)))
            edges.append((onset + length, 0, mido.Message("note_off", note=pitch, channel=channel)))
        track, at = mido.MidiTrack([mido.MetaMessage("track_name", name=name)]), 0
        for ticks, _, message in sorted(edges, key=lambda edge: edge[:2]):
            track.append(message.copy(time=ticks - at))
            at = ticks
        song.tracks.append(track)
    song.save(path)
    return path


META = (
    mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(168)),
    mido.MetaMessage("time_signature", numerator=3, denominator=4),
    mido.MetaMessage("key_signature", key="Dm"),
)
LINE = [(0, 240, 50, 0), (480, 120, 53, 0), (480, 960, 57, 0), (1441, 3, 50, 0)]


@pytest.fixture
def journal(tmp_path):
    return tmp_path / "journal.sqlite"


@pytest.fixture
def round_trip(tmp_path, journal):
    def run(*tracks, meta=META):
        source = write(tmp_path / "song.mid", *tracks, meta=meta)
        take = read_take(journal, import_song(journal, source))
        export_take(take, tmp_path / "again.mid")
        return smf.read(tmp_path / "again.mid")

    return run


def doubled(notes):
    """What 480 ticks a beat are at 960; mido's own velocity is 64."""
    return sorted((on * 2, length * 2, pitch, 64, channel) for on, length, pitch, channel in notes)


def test_a_round_trip_keeps_notes_tempo_metre_and_key(round_trip):
    song = round_trip(("lead", LINE))
    assert song.notes == {"played": doubled(LINE), "through": doubled(LINE)}
    assert [m.tempo for _, m in song.meta["set_tempo"]] == [mido.bpm2tempo(168)]
    ((_, metre),) = song.meta["time_signature"]
    assert (metre.numerator, metre.denominator) == (3, 4)
    assert [m.key for _, m in song.meta["key_signature"]] == ["Dm"]


def test_an_imported_take_is_listed(tmp_path, journal):
    write(tmp_path / "song.mid", ("lead", LINE), meta=META)
    assert import_song(journal, tmp_path / "song.mid") == 1
    assert import_song(journal, tmp_path / "song.mid") == 2
    first, second = list_takes(journal)
    assert (first.origin, first.notes, first.key, first.tempo) == ("song.mid", 4, "D minor", 168.0)
    # Two bars of 3/4 at 168 hold the notes.
    assert first.length_s == pytest.approx(6 * 60 / 168)
    assert second.id == 2


def test_tempo_changes_are_kept(round_trip):
    track = mido.MidiTrack(
        [
            mido.MetaMessage("set_tempo", tempo=500_000),
            mido.MetaMessage("set_tempo", tempo=250_000, time=480),
            mido.MetaMessage("set_tempo", tempo=1_000_000, time=480),
        ]
    )
    song = round_trip(("lead", LINE), meta=track)
    found = [(ticks, m.tempo) for ticks, m in song.meta["set_tempo"]]
    assert found == [(0, 500_000), (960, 250_000), (1920, 1_000_000)]
    assert song.notes["played"] == doubled(LINE)


@pytest.mark.parametrize(
    "beats_us",
    [(0xFFFFFF,), (1,), (0xFFFFFE, 500_002), (357_143, 0xFFFFFF, 150_000), (3_000_000, 149_999)],
)
def test_every_tempo_that_a_file_can_hold_is_kept(round_trip, beats_us):
    """RP-001, FF 51: a beat of 1 to 0xFFFFFF microseconds, which is 16.8 s: 3.576 a minute."""
    track = [
        mido.MetaMessage("set_tempo", tempo=us, time=480 * bool(index))
        for index, us in enumerate(beats_us)
    ]
    song = round_trip(("lead", LINE), meta=mido.MidiTrack(track))
    found = [(ticks, m.tempo) for ticks, m in song.meta["set_tempo"]]
    assert found == [(960 * index, us) for index, us in enumerate(beats_us)]
    assert song.notes["played"] == doubled(LINE)


def test_tempos_beyond_those_at_which_it_runs_are_named():
    song = SongFile((), 20.0, Metre(), None, ("",), ((0, 20.0), (1, 400.0), (2, 400.5), (3, 19.0)))
    assert unplayable_tempos(song) == [19.0, 400.5]
    assert unplayable_tempos(SongFile((), 3.6, Metre(), None, ("",))) == [3.6]


def test_a_mode_survives(tmp_path, journal):
    records = [fact(0, "key", key="F# dorian"), start(1), *note(1, 1), fact(3, "stop")]
    (take,) = journalled(tmp_path / "played.sqlite", records)
    export_take(take, tmp_path / "take.mid")
    take_id = import_song(journal, tmp_path / "take.mid")
    assert read_take(journal, take_id).info.key == "F# dorian"


def test_our_own_files_go_back_to_their_parts(round_trip):
    played, answer, drums = [(0, 480, 60, 0)], [(960, 480, 36, 2)], [(0, 99, 38, 9)]
    song = round_trip(("played", played), ("played 10", drums), ("answer", answer))
    assert song.notes == {
        "played": doubled(played),
        "played 10": doubled(drums),
        "answer": doubled(answer),
    }


def test_other_names_that_begin_alike_are_other_names(round_trip):
    song = round_trip(("answer me", [(0, 480, 60, 0)]))
    assert list(song.notes) == ["played", "through"]


def test_tracks_that_share_a_channel_and_a_note(round_trip):
    """Each beginning is kept; a note ends where the same one begins again."""
    song = round_trip(
        ("right", [(0, 960, 60, 0), (2000, 100, 62, 0)]),
        ("left", [(480, 960, 60, 0), (2000, 300, 62, 0)]),
    )
    assert song.notes["played"] == doubled([(0, 480, 60, 0), (480, 960, 60, 0), (2000, 300, 62, 0)])


def test_a_file_without_notes(round_trip):
    assert round_trip(("lead", []), meta=()).notes == {}


def test_what_is_no_midi_file_leaves_no_trace(tmp_path, journal):
    (tmp_path / "song.mid").write_bytes(b"not a song")
    for name in ("song.mid", "none.mid"):
        with pytest.raises(FieldError):
            import_song(journal, tmp_path / name)
    assert not journal.exists()


def test_a_tempo_that_cannot_be_written_again_is_refused():
    song = SongFile((FileNote(0, 9, 60, 64, 0, 0),), 3.5, Metre(), None, ("",))
    with pytest.raises(FieldError, match=r"tempo: got 3\.5; allowed: 3\.5763 to 60000000"):
        song_records(song)


def test_records_read_as_if_they_had_been_played():
    song = SongFile((FileNote(960, 480, 60, 64, 3, 0),), 120.0, Metre(), "D minor", ("lead",))
    key, begin, *notes, stop = song_records(song)
    assert (key.kind, begin.kind, begin.at_ns) == ("key", "start", 0)
    assert [(r.at_ns, r.kind, r.port, r.data) for r in notes] == [
        (SECOND // 2, "in", "keys in", b"\x93\x3c\x40"),
        (SECOND // 2, "out", "through", b"\x93\x3c\x40"),
        (SECOND * 3 // 4, "in", "keys in", b"\x83\x3c\x40"),
        (SECOND * 3 // 4, "out", "through", b"\x83\x3c\x40"),
    ]
    assert (stop.kind, stop.at_ns) == ("stop", 2 * SECOND)


def test_an_import_while_something_is_recorded(tmp_path, journal):
    from live.takes.journal import Journal

    write(tmp_path / "song.mid", ("lead", LINE), meta=META)
    with closing(Journal(journal)) as live:
        live.begin_run(0, 0)
        live.write([start(0), *note(0, 1)])
        assert import_song(journal, tmp_path / "song.mid") == 2
        live.write([*note(2, 1), fact(4, "stop")])
    assert [info.notes for info in list_takes(journal)] == [2, 4]


def test_tracks_of_further_outputs_go_back_there(round_trip):
    song = round_trip(("played", LINE[:1]), ("to low", LINE[1:2]), ("to low 2", [(0, 240, 40, 1)]))
    assert list(song.notes) == ["played", "to low", "to low 2"]
    assert [note[2] for note in song.notes["to low 2"]] == [40]
