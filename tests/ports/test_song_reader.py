"""Songs from files. Expected values are worked out by hand from RP-001's example files."""

from __future__ import annotations

from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.clock.metre import Metre
from live.notes.phrase import PhraseNote
from live.ports.files import FileNote, TrackOut, read_song, write_song
from live.theory.errors import FieldError
from live.theory.keys import parse_key
from tests.ports.smf_bytes import END, FORMAT_0, FORMAT_1, MALFORMED, smf


@pytest.fixture
def read(tmp_path):
    def one(data: bytes):
        path = tmp_path / "in.mid"
        path.write_bytes(data)
        return read_song(path)

    return one


# (onset, length, pitch, velocity, channel) at 960 ticks a beat: the file has 96, so times ten.
EXAMPLE = [(0, 3840, 48, 96, 2), (0, 3840, 60, 96, 2), (960, 2880, 67, 64, 1)]
EXAMPLE += [(1920, 1920, 76, 32, 0)]


@pytest.mark.parametrize(("data", "tracks"), [(FORMAT_0, 1), (FORMAT_1, 4)])
def test_the_examples_of_the_standard(read, data, tracks):
    song = read(data)
    got = [(n.onset_ticks, n.length_ticks, n.pitch, n.velocity, n.channel) for n in song.notes]
    assert got == EXAMPLE
    assert song.tempo_bpm == 120.0
    assert song.tempos == ((0, 120.0),)
    assert song.metre == Metre(4, 4)
    assert song.key_text is None
    assert song.tracks == ("",) * tracks


def test_without_tempo_and_metre_they_are_120_and_4_4(read):
    # RP-001: "If these are not present, 120 and 4/4 are assumed".
    song = read(smf("00 90 3C 40 60 80 3C 40" + END))
    assert (song.tempo_bpm, song.metre, song.tempos) == (120.0, Metre(4, 4), ())


@pytest.mark.parametrize(
    ("signature", "text"),
    [
        # FF 59 02 sf mi (RP-001): sf flats below 0, sharps above; mi 0 major, 1 minor.
        ("00 00", "C major"), ("FF 01", "D minor"), ("03 01", "F# minor"), ("FE 00", "Bb major"),
        ("07 00", "C# major"), ("F9 00", "Cb major"), ("F9 01", "Ab minor"), ("07 01", "A# minor"),
        # Out of range in either half: as if it were not there.
        ("08 00", None), ("F8 00", None), ("00 02", None), ("FE FF", None), ("80 00", None),
    ],
)  # fmt: skip
def test_key_signatures(read, signature, text):
    song = read(smf(f"00 FF 59 02 {signature} 00 90 3C 40 60 80 3C 40" + END))
    assert song.key_text == text
    assert len(song.notes) == 1


def test_a_key_signature_of_the_wrong_length_says_nothing(read):
    assert read(smf("00 FF 59 01 00" + END)).key_text is None


@pytest.mark.parametrize(
    ("text", "key"),
    [("Key: F# dorian", "F# dorian"), ("Key: of the door", "D minor"), ("key F#", "D minor")],
)
def test_our_own_words_name_the_key_where_they_can_be_read(read, text, key):
    raw = text.encode()
    words = bytes((0, 0xFF, 1, len(raw))) + raw
    assert read(smf(words + bytes.fromhex("00 FF 59 02 FF 01" + END))).key_text == key


@pytest.mark.parametrize(
    ("name", "text"),
    [("42 61 73 73", "Bass"), ("E6 97 A5", "日"), ("53 74 72 61 DF 65", "Straße"), ("", "")],
)
def test_names_are_utf_8_or_else_latin_1(read, name, text):
    raw = bytes.fromhex(name)
    track = bytes((0, 0xFF, 3, len(raw))) + raw + bytes.fromhex(END)
    assert read(smf(track)).tracks == (text,)


@pytest.mark.parametrize(
    ("events", "notes"),
    [
        # The first on is the first off (common practice, no source).
        ("00 90 3C 40 30 90 3C 50 30 80 3C 40 30 80 3C 40", [(0, 960, 64), (480, 960, 80)]),
        # A note that never ends lasts until the track does.
        ("00 90 3C 40 60 B0 07 40", [(0, 960, 64)]),
        # A note-off that ends nothing is no note.
        ("00 80 3C 40 60 90 3C 00", []),
        # Another channel's off does not end it.
        ("00 90 3C 40 30 81 3C 40 30 80 3C 40", [(0, 960, 64)]),
        # No length at all is heard as the shortest there is.
        ("00 90 3C 40 00 80 3C 40", [(0, 1, 64)]),
    ],
)
def test_pairing(read, events, notes):
    song = read(smf(events + END))
    assert [(n.onset_ticks, n.length_ticks, n.velocity) for n in song.notes] == notes


@pytest.mark.parametrize(
    ("division", "onset"), [(1, 960), (24, 40), (480, 2), (960, 1), (1000, 1), (32767, 0)]
)
def test_ticks_are_scaled_to_960_a_beat(read, division, onset):
    song = read(smf("01 90 3C 40 60 80 3C 40" + END, division=division))
    assert song.notes[0].onset_ticks == onset


def test_smpte_time_is_taken_at_the_first_tempo(read):
    # 25 frames of 40 parts: a tick is a millisecond; at 60 bpm a second is a beat.
    data = smf(
        "00 FF 51 03 0F 42 40 87 68 90 3C 40 87 68 80 3C 40" + END, division=0xE728 - 0x10000
    )
    (note,) = read(data).notes
    assert (note.onset_ticks, note.length_ticks) == (960, 960)


def test_tempos_are_listed_in_order_and_the_first_counts(read):
    song = read(smf("60 FF 51 03 05 73 17" + END, "00 FF 51 03 07 A1 20" + END))
    assert song.tempos == ((0, 120.0), (960, 168.0))
    assert song.tempo_bpm == 120.0


def test_independent_tracks_of_format_2_are_refused(read):
    with pytest.raises(FieldError, match="format 0 or 1"):
        read(smf(END, kind=2))


@pytest.mark.parametrize("name", sorted(MALFORMED))
def test_malformed_files_are_field_errors_and_nothing_else(read, name):
    with pytest.raises(FieldError) as caught:
        read(MALFORMED[name])
    assert caught.value.field == "file"


@given(data=st.data())
def test_a_damaged_file_is_read_or_refused(tmp_path_factory, data):
    damaged = bytearray(FORMAT_1)
    for _ in range(data.draw(st.integers(1, 4))):
        damaged[data.draw(st.integers(0, len(damaged) - 1))] = data.draw(st.integers(0, 255))
    path = tmp_path_factory.mktemp("damaged") / "x.mid"
    path.write_bytes(bytes(damaged))
    with suppress(FieldError):
        read_song(path)


NOTES = st.lists(
    st.builds(
        PhraseNote,
        st.integers(0, 20_000),
        st.integers(1, 5_000),
        st.integers(0, 127),
        st.integers(1, 127),
    ),
    max_size=12,
    unique_by=lambda note: note.pitch,  # overlapping notes of one pitch have no one reading
)


@given(parts=st.lists(st.tuples(st.integers(0, 15), NOTES), min_size=1, max_size=3))
def test_what_was_written_is_read(tmp_path_factory, parts):
    path = tmp_path_factory.mktemp("song") / "x.mid"
    tracks = [
        TrackOut(f"part {n}", channel, tuple(notes)) for n, (channel, notes) in enumerate(parts)
    ]
    write_song(path, tracks, tempo_bpm=168, metre=Metre(7, 8), key=parse_key("F# dorian"))
    song = read_song(path)
    expected = [
        FileNote(note.onset_ticks, note.length_ticks, note.pitch, note.velocity, channel, track)
        for track, (channel, notes) in enumerate(parts, start=1)
        for note in notes
    ]
    expected.sort(key=lambda note: (note.onset_ticks, note.track, note.pitch))
    assert list(song.notes) == expected
    assert (song.tempo_bpm, song.metre, song.key_text) == (168.0, Metre(7, 8), "F# dorian")
    assert song.tracks == ("tempo", *(f"part {n}" for n in range(len(parts))))
