"""What is written, byte by byte against RP-001, and what is refused."""

from __future__ import annotations

import pytest

from live.clock.metre import Metre
from live.notes.phrase import PhraseNote
from live.ports.files import TrackOut, write_song
from live.ports.smf import parse
from live.theory.errors import FieldError
from live.theory.keys import parse_key
from tests.ports.smf_bytes import from_hex

NOTE = PhraseNote(0, 960, 38, 96)


def written(tmp_path, tracks, **more) -> bytes:
    path = tmp_path / "out.mid"
    write_song(path, tracks, **more)
    return path.read_bytes()


def test_header_tempo_metre_and_key(tmp_path):
    data = written(
        tmp_path,
        [TrackOut("Bass", 0, (NOTE,))],
        tempo_bpm=168,
        metre=Metre(4, 4),
        key=parse_key("D minor"),
    )
    header = from_hex("""
        4D 54 68 64  00 00 00 06   # MThd, 6 bytes
        00 01  00 02  03 C0        # format 1, two tracks, 960 ticks a beat
        4D 54 72 6B                # MTrk
    """)
    assert data.startswith(header)
    assert from_hex("00 FF 58 04  04 02 18 08") in data  # 4/4
    assert from_hex("00 FF 59 02  FF 01") in data  # one flat, minor
    assert from_hex("00 FF 51 03  05 73 17") in data  # 357143 us: 60e6 / 168 = 357142.86
    assert from_hex("00 FF 03 04  42 61 73 73") in data  # track name
    assert from_hex("00 90 26 60  87 40 80 26 40") in data  # 960 = 87 40
    assert data.endswith(from_hex("FF 2F 00"))


@pytest.mark.parametrize(
    ("metre", "signature"), [("6/8", "06 03"), ("7/16", "07 04"), ("2/2", "02 01")]
)
def test_metres(tmp_path, metre, signature):
    upper, lower = map(int, metre.split("/"))
    data = written(tmp_path, [], metre=Metre(upper, lower))
    assert from_hex(f"00 FF 58 04 {signature}") in data


def test_at_one_tick_notes_end_before_controllers_before_new_notes(tmp_path):
    again = PhraseNote(960, 960, 38, 80)
    track = TrackOut("x", 3, (again, NOTE), ((960, b"\xb3\x40\x00"),))
    events = parse(written(tmp_path, [track])).tracks[1].events
    at_960 = [event.status for event in events if event.tick == 960]
    assert at_960 == [0x83, 0xB3, 0x93]


def test_every_track_ends_on_the_bar_line(tmp_path):
    late = TrackOut("late", 0, (PhraseNote(3 * 960, 961, 38, 96),))
    early = TrackOut("early", 1, (NOTE,))
    raw = parse(written(tmp_path, [late, early], metre=Metre(4, 4)))
    assert [track.events[-1].tick for track in raw.tracks] == [7680, 7680, 7680]


@pytest.mark.parametrize(
    ("name", "ascii_"),
    [
        ("Bass", b"Bass"), ("F♯ and B♭", b"F# and Bb"), ("Straße", b"Stra?e"), ("é", b"e"),
        ("日本", b"??"), ("tab\there", b"tab?here"), ("", b""), ("F𝄪 B𝄫", b"F## Bbb"),
    ],
)  # fmt: skip
def test_text_is_ascii(tmp_path, name, ascii_):
    data = written(tmp_path, [TrackOut(name, 0, (NOTE,))], markers=[(0, name)])
    length = len(ascii_).to_bytes(1)
    assert b"\x00\xff\x03" + length + ascii_ in data
    assert b"\x00\xff\x06" + length + ascii_ in data


def test_a_tempo_at_the_start_replaces_the_plain_one(tmp_path):
    data = written(tmp_path, [], tempo_bpm=100, tempos=[(0, 120), (960, 60)])
    assert data.count(b"\xff\x51\x03") == 2
    assert from_hex("00 FF 51 03 07 A1 20 87 40 FF 51 03 0F 42 40") in data


@pytest.mark.parametrize(
    ("tracks", "more", "field"),
    [
        ([TrackOut("x", 16, ())], {}, "channel"),
        ([TrackOut("x", -1, ())], {}, "channel"),
        ([TrackOut("x", 0, (PhraseNote(0, 1, 128, 96),))], {}, "note"),
        ([TrackOut("x", 0, (PhraseNote(0, 1, 60, 0),))], {}, "note"),
        ([TrackOut("x", 0, (PhraseNote(0, 0, 60, 96),))], {}, "note"),
        ([TrackOut("x", 0, (PhraseNote(-1, 1, 60, 96),))], {}, "note"),
        ([TrackOut("x", 0, (), ((0, b"\xf8"),))], {}, "message"),
        ([TrackOut("x", 0, (), ((0, b"\x90\x3c"),))], {}, "message"),
        ([TrackOut("x", 0, (), ((-1, b"\xb0\x07\x40"),))], {}, "position"),
        ([], {"tempo_bpm": 0}, "tempo"),
        ([], {"tempo_bpm": -1}, "tempo"),
        ([], {"tempo_bpm": 3.5}, "tempo"),
        ([], {"tempo_bpm": float("nan")}, "tempo"),
        ([], {"tempo_bpm": float("inf")}, "tempo"),
        ([], {"tempos": [(-1, 120)]}, "position"),
        ([], {"markers": [(-1, "x")]}, "position"),
    ],
)
def test_what_a_file_cannot_hold_is_refused_and_nothing_is_written(tmp_path, tracks, more, field):
    with pytest.raises(FieldError) as caught:
        write_song(tmp_path / "out.mid", tracks, **more)
    assert caught.value.field == field
    assert list(tmp_path.iterdir()) == []
