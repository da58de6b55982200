"""Streams written by hand with results worked out by hand; mido reads the files.

At 120 a beat lasts 0.5 s and has 960 ticks, a bar of 4/4 lasts 2 s and has 3840.
"""

import pytest

from live.notes.record import Record
from live.takes.export import export_take, plan_export
from live.theory.errors import FieldError
from tests.takes import smf
from tests.takes.streams import SECOND, fact, journalled, note, off, on, start


@pytest.fixture
def export(tmp_path):
    def run(*records):
        *_, take = journalled(tmp_path / "journal.sqlite", list(records))
        export_take(take, tmp_path / "take.mid")
        return smf.read(tmp_path / "take.mid")

    return run


SONG = [
    fact(9, "key", key="D minor"),
    start(10, tempo=120.0),
    fact(10, "call", number=1, bar=0),
    *note(10, 0.5, 62),
    *note(10, 0.5, 62, port="through"),
    *note(11, 0.25, 65),
    *note(11, 0.25, 65, port="through"),
    fact(14, "answer", number=1, bar=2, words=["head", "up to 1"], reasons=["It …"]),
    *note(14, 1, 38, port="answer"),
    fact(15, "kept", number=1, choice=1),
    fact(18, "answer_end", number=1),
    fact(18, "stop"),
]


def test_parts_become_tracks(export):
    song = export(*SONG)
    assert (song.file.type, song.file.ticks_per_beat) == (1, 960)
    assert song.notes == {
        "played": [(0, 960, 62, 100, 0), (1920, 480, 65, 100, 0)],
        "through": [(0, 960, 62, 100, 0), (1920, 480, 65, 100, 0)],
        "answer": [(7680, 1920, 38, 100, 0)],
    }
    assert [track.name for track in song.file.tracks[1:]] == ["played", "through", "answer"]


def test_tempo_metre_and_key_are_stated_at_the_start(export):
    song = export(*SONG)
    ((at, tempo),) = song.meta["set_tempo"]
    assert (at, tempo.tempo) == (0, 500_000)  # microseconds a quarter note
    ((at, metre),) = song.meta["time_signature"]
    assert (at, metre.numerator, metre.denominator) == (0, 4, 4)
    ((at, key),) = song.meta["key_signature"]
    assert (at, key.key) == (0, "Dm")


def test_calls_answers_and_kept_are_marked(export):
    found = smf.markers(export(*SONG))
    assert (0, "call 1") in found
    assert (7680, "answer 1: head, up to 1") in found
    assert (9600, "kept 1") in found


def test_late_and_panic_a_later_key_and_a_section_are_marked(export):
    song = export(
        start(0),
        *note(0, 1),
        fact(2, "key", key="F♯ dorian"),
        fact(4, "late", number=3),
        fact(6, "panic"),
        fact(8.01, "section", section="Landing", bar=4),
        fact(10, "stop"),
    )
    wanted = [(3840, "key F# dorian"), (7680, "late 3"), (11520, "panic")]
    wanted.append((15360, "section Landing"))
    assert [marker for marker in smf.markers(song) if marker[0]] == wanted


def test_an_answer_without_words_gives_its_reasons(export):
    song = export(start(0), on(0), fact(2, "answer", number=2, bar=1, reasons=["low", "late"]))
    assert (3840, "answer 2: low, late") in smf.markers(song)


def test_a_take_from_bar_57_begins_at_that_bar_line(export):
    song = export(start(0, bar=56, beat=1.0), *note(0, 0.5), fact(1.5, "call", number=9, bar=57))
    assert song.notes["played"] == [(960, 960, 60, 100, 0)]
    assert {(0, "bar 57"), (3840, "call 9")} <= set(smf.markers(song))


def test_an_early_finger_shifts_by_a_whole_bar(export):
    song = export(on(9.75), start(10), off(10.25), *note(11, 0.5, 64), fact(12, "stop"))
    assert song.notes["played"] == [(3360, 960, 60, 100, 0), (5760, 960, 64, 100, 0)]
    assert (3840, "bar 1") in smf.markers(song)


def test_an_early_finger_in_a_short_bar_shifts_by_as_many_as_it_takes(export):
    # 1/16 at 120: a bar is 240 ticks, and 0.75 s are 1440.
    song = export(on(9.25), start(10, metre="1/16"), off(10.125), fact(12, "stop"))
    assert song.notes["played"] == [(0, 1680, 60, 100, 0)]
    assert (1440, "bar 1") in smf.markers(song)


def test_tempo_changes_move_with_the_shift(export):
    song = export(on(9.75), start(10), off(10.25), fact(12, "tempo", tempo=60.0), fact(14, "stop"))
    assert [(at, m.tempo) for at, m in song.meta["set_tempo"]] == [(0, 500_000), (7680, 1_000_000)]


def test_while_stopped_the_first_note_is_on_a_bar_line(export):
    song = export(fact(1, "tempo", tempo=60.0), *note(5.3, 1), *note(7.3, 0.5, 64))
    assert song.notes["played"] == [(0, 960, 60, 100, 0), (1920, 480, 64, 100, 0)]
    assert [m.tempo for _, m in song.meta["set_tempo"]] == [1_000_000]


def test_notes_still_held_end_with_the_take(export):
    song = export(start(0), on(1, 50), on(1, 50, port="through"), fact(4, "stop"))
    assert song.notes["played"] == song.notes["through"] == [(1920, 5760, 50, 100, 0)]


def test_a_pad_held_over_the_start_begins_with_it(export):
    pad = [on(0, 50), on(0, 50, port="through")]
    ends = [off(12, 50), off(12, 50, port="through")]
    song = export(*pad, start(10), *ends, fact(14, "stop"))
    assert song.notes["played"] == song.notes["through"] == [(0, 3840, 50, 100, 0)]


def message(at_s, data, port="keys in"):
    return Record(round(at_s * SECOND), "in" if port == "keys in" else "out", port, data)


def test_other_messages_keep_their_place_and_track(export):
    sysex = b"\xf0\x7d\x01\x02\xf7"
    song = export(
        start(0),
        *note(0, 3),
        *note(0, 3, port="through"),
        message(0.5, b"\xb0\x01\x40"),
        message(1, b"\xe0\x00\x50", "through"),
        message(1.5, b"\xd0\x22"),
        message(2, b"\xc0\x05", "through"),
        message(2.5, sysex),
        message(2.75, b"\xfe"),
        fact(4, "stop"),
    )
    assert [(at, bytes(m.bin())) for at, m in song.messages["played"]] == [
        (960, b"\xb0\x01\x40"),
        (2880, b"\xd0\x22"),
        (4800, sysex),
    ]
    assert [(at, bytes(m.bin())) for at, m in song.messages["through"]] == [
        (1920, b"\xe0\x00\x50"),
        (3840, b"\xc0\x05"),
    ]


def test_every_channel_has_a_track_of_its_own(export):
    song = export(start(0), on(0, 60), on(0, 36, channel=9), off(1, 36, channel=9), off(1, 60))
    assert song.notes == {"played": [(0, 1920, 60, 100, 0)], "played 10": [(0, 1920, 36, 100, 9)]}


def test_what_a_panic_sends_is_no_music(export):
    """The engine releases what sounds, then tells all 16 channels to be silent (MIDI 1.0)."""
    hush = [
        message(3, bytes((0xB0 | channel, controller, 0)), port)
        for port in ("through", "answer")
        for channel in range(16)
        for controller in (64, 123, 120, 121)
    ]
    song = export(
        start(0),
        *[on(1, 60), on(1, 60, port="through"), on(2, 40, port="answer")],
        *[off(3, 60, port="through"), *hush, fact(3, "panic")],
        *[off(5, 60), off(5, 60, port="through"), off(5, 40, port="answer"), fact(6, "stop")],
    )
    assert song.notes == {
        "played": [(1920, 7680, 60, 100, 0)],
        "through": [(1920, 3840, 60, 100, 0)],
        "answer": [(3840, 1920, 40, 100, 0)],
    }
    assert not any(song.messages.values())


def test_lights_and_the_return_are_no_part_of_a_take(export):
    back = [record._replace(kind="in") for record in note(0, 1, port="return")]
    song = export(start(0), *note(0, 1), on(0, 60, port="lights"), on(1, 3, port="lights"), *back)
    assert list(song.notes) == ["played"]


def test_further_outputs_have_tracks_of_their_own(export):
    song = export(start(0), *note(0, 1), *note(0, 1, 36, port="low"), *note(2, 1, 40, port="low"))
    assert list(song.notes) == ["played", "to low"]
    assert [pitch for _, _, pitch, _, _ in song.notes["to low"]] == [36, 40]


def test_a_take_without_notes_still_gives_a_file(export):
    song = export(start(0, tempo=174.0), fact(4, "stop"))
    assert song.notes == {}
    assert song.meta["set_tempo"][0][1].tempo == round(60e6 / 174)


@pytest.mark.parametrize("key", ["", "H flat", None, 7])
def test_a_key_that_cannot_be_read_is_left_out(export, key):
    song = export(fact(0, "key", key=key), start(1), *note(1, 1), fact(4, "stop"))
    assert "key_signature" not in song.meta
    assert song.notes["played"]


def test_the_plan_is_pure_data(tmp_path):
    (take,) = journalled(tmp_path / "journal.sqlite", SONG)
    assert plan_export(take) == plan_export(take)
    assert plan_export(take).tempos == ((0, 120.0),)
    assert str(plan_export(take).metre) == "4/4"


def test_the_report_counts(tmp_path):
    (take,) = journalled(tmp_path / "journal.sqlite", SONG)
    report = export_take(take, tmp_path / "new folder" / "take.mid")
    assert (report.tracks, report.notes) == (("played", "through", "answer"), 5)
    assert report.path.exists()


def test_a_file_that_is_there_is_never_written_over(tmp_path):
    (take,) = journalled(tmp_path / "journal.sqlite", SONG)
    (tmp_path / "take.mid").write_text("my own")
    with pytest.raises(FieldError, match="a name that is not taken"):
        export_take(take, tmp_path / "take.mid")
    assert (tmp_path / "take.mid").read_text() == "my own"


def test_a_place_that_cannot_be_written(tmp_path):
    (take,) = journalled(tmp_path / "journal.sqlite", SONG)
    (tmp_path / "file").write_text("")
    for place in ("file/take.mid", "file/folder/take.mid", f"{'x' * 300}.mid"):
        with pytest.raises(FieldError, match=r"that can be (written|made)"):
            export_take(take, tmp_path / place)


def test_an_export_that_fails_leaves_no_empty_file(tmp_path, monkeypatch):
    def fail(*_args, **_options):
        raise FieldError("file", "a disk with room", "none")

    (take,) = journalled(tmp_path / "journal.sqlite", SONG)
    monkeypatch.setattr("live.takes.export.write_song", fail)
    with pytest.raises(FieldError):
        export_take(take, tmp_path / "take.mid")
    assert not (tmp_path / "take.mid").exists()
