"""The bytes of Standard MIDI Files against RP-001 (MMA, Standard MIDI Files 1.0)."""

from __future__ import annotations

from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.ports.smf import END_OF_TRACK, META, parse, read_raw, write_number
from live.theory.errors import FieldError
from tests.ports.smf_bytes import END, FORMAT_0, FORMAT_1, MALFORMED, chunk, from_hex, smf

NUMBERS = [
    # RP-001, table of variable-length quantities.
    (0x00, "00"),
    (0x40, "40"),
    (0x7F, "7F"),
    (0x80, "81 00"),
    (0x2000, "C0 00"),
    (0x3FFF, "FF 7F"),
    (0x4000, "81 80 00"),
    (0x100000, "C0 80 00"),
    (0x1FFFFF, "FF FF 7F"),
    (0x200000, "81 80 80 00"),
    (0x8000000, "C0 80 80 00"),
    (0xFFFFFFF, "FF FF FF 7F"),
]


@pytest.mark.parametrize(("number", "encoded"), NUMBERS)
def test_variable_length_quantities(number, encoded):
    assert write_number(number) == from_hex(encoded)
    track = from_hex(encoded) + from_hex("FF 2F 00")
    assert parse(smf(track)).tracks[0].events[0].tick == number


def test_header_and_tracks_of_the_two_examples():
    one, four = parse(FORMAT_0), parse(FORMAT_1)
    assert (one.format, one.division, len(one.tracks)) == (0, 96, 1)
    assert (four.format, four.division, len(four.tracks)) == (1, 96, 4)
    assert [len(track.events) for track in four.tracks] == [3, 4, 4, 6]


def test_running_status_is_filled_in_and_the_bytes_are_kept():
    events = parse(FORMAT_0).tracks[0].events
    first, second = events[5], events[6]
    assert (first.status, first.data, first.raw) == (0x92, b"\x30\x60", b"\x92\x30\x60")
    assert (second.status, second.data, second.raw) == (0x92, b"\x3c\x60", b"\x3c\x60")
    assert events[9].tick == 384
    assert events[9].delta == b"\x81\x40"
    assert (events[-1].status, events[-1].meta) == (META, END_OF_TRACK)


def test_every_byte_of_a_track_is_in_its_events():
    for data in (FORMAT_0, FORMAT_1):
        raw = parse(data)
        contents = [content for letters, content in raw.chunks if letters == b"MTrk"]
        for track, content in zip(raw.tracks, contents, strict=True):
            joined = b"".join(event.delta + event.raw for event in track.events)
            assert joined + track.rest == content


def test_unknown_chunks_are_skipped():
    # RP-001: "your programs should expect alien chunks and treat them as if they weren't there".
    data = FORMAT_0[:14] + chunk(b"XFIH", b"who knows") + FORMAT_0[14:]
    assert parse(data).tracks == parse(FORMAT_0).tracks


def test_a_longer_header_is_accepted():
    # RP-001: the length must be honoured, more parameters may follow.
    data = chunk(b"MThd", FORMAT_0[8:14] + b"\x01\x02") + FORMAT_0[14:]
    assert parse(data).tracks == parse(FORMAT_0).tracks


def test_a_wrong_number_of_tracks_in_the_header_is_forgiven():
    assert parse(FORMAT_1[:11] + b"\x09" + FORMAT_1[12:]).tracks == parse(FORMAT_1).tracks


def test_a_missing_end_of_track_and_bytes_after_it_are_forgiven():
    assert len(parse(smf("00 90 3C 40 60 80 3C 40")).tracks[0].events) == 2
    assert parse(smf(END + "AA BB")).tracks[0].rest == b"\xaa\xbb"


def test_meta_events_and_sysex_do_not_end_running_status():
    # Against RP-001, which says they do; files in the wild rely on it, and nothing is lost.
    events = parse(smf("00 90 3C 40 00 FF 01 01 41 60 3C 00" + END)).tracks[0].events
    assert (events[2].status, events[2].data) == (0x90, b"\x3c\x00")


@pytest.mark.parametrize(
    ("division", "rate"),
    [
        # RP-001: E7 28 is 25 frames with 40 parts, a millisecond each.
        (0xE728 - 0x10000, 1000.0),
        (-24 << 8 | 80, 1920.0),
        (-29 << 8 | 100, 100 * 30000 / 1001),
        (-30 << 8 | 80, 2400.0),
    ],
)
def test_smpte_time(division, rate):
    assert parse(smf(END, division=division)).ticks_a_second == pytest.approx(rate)


def test_ticks_in_a_beat_are_no_smpte_time():
    assert parse(FORMAT_0).ticks_a_second is None


NOT_OF_THE_BYTES = {name for name in MALFORMED if name.startswith(("tempo", "time", "metre"))}


@pytest.mark.parametrize("name", sorted(set(MALFORMED) - NOT_OF_THE_BYTES))
def test_malformed_files_are_refused_with_the_place(name):
    with pytest.raises(FieldError) as caught:
        parse(MALFORMED[name], "bad.mid")
    assert caught.value.field == "file"
    assert "bad.mid" in str(caught.value)


def test_the_error_tells_track_and_byte():
    with pytest.raises(FieldError, match=r"x\.mid, track 2, byte 4"):
        parse(smf(END, "00 90 3C 80" + END), "x.mid")


@pytest.mark.parametrize("name", ["missing.mid", ".", "no/such/folder.mid", "nul\0byte"])
def test_what_cannot_be_opened_is_refused(tmp_path, name):
    with pytest.raises(FieldError, match="file: got"):
        read_raw(f"{tmp_path}/{name}")


@given(st.binary(max_size=200))
def test_any_bytes_parse_or_are_refused(data):
    for candidate in (data, b"MThd" + data, FORMAT_0[:14] + data, smf(data)):
        with suppress(FieldError):
            parse(candidate)


@given(st.data())
def test_a_damaged_file_parses_or_is_refused(data):
    damaged = bytearray(FORMAT_1)
    for _ in range(data.draw(st.integers(1, 4))):
        damaged[data.draw(st.integers(0, len(damaged) - 1))] = data.draw(st.integers(0, 255))
    with suppress(FieldError):
        parse(bytes(damaged))
