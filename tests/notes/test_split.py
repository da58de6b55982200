"""Whole messages from packets.

Source of the rows: MIDI 1.0 Detailed Specification 4.2.1 (MMA 1996), by the heading named in each
row (headings from memory; the rules as quoted in public texts of the specification), and JACK's
midiport.h, which says what a JACK packet may hold.
"""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.notes.split import MAX_SYSEX_BYTES, Cleaner, data_bytes, is_whole

ROWS = [
    # In each row: what it shows, packets, messages that leave, number rejected.
    # "Channel Voice Messages", table I: one status, one or two data bytes.
    ("note on", "90 3C 40", "90 3C 40", 0),
    ("note on with velocity 0 stays as it is", "90 3C 00", "90 3C 00", 0),
    ("program change has one data byte", "C5 07", "C5 07", 0),
    ("channel pressure has one data byte", "D0 40", "D0 40", 0),
    ("pitch bend has two", "E0 00 40", "E0 00 40", 0),
    ("two messages in one packet", "90 3C 40 80 3C 40", "90 3C 40|80 3C 40", 0),
    # "Running Status": the status stays in force for further data bytes.
    ("running status", "90 3C 40 3E 40", "90 3C 40|90 3E 40", 0),
    ("running status, one data byte", "C0 01 02", "C0 01|C0 02", 0),
    ("real time does not end running status", "90 3C 40 F8 3E 40", "90 3C 40|F8|90 3E 40", 0),
    ("system common ends running status", "90 3C 40 F6 3E 40", "90 3C 40|F6", 1),
    ("song select ends running status", "90 3C 40 F3 05 3E 40", "90 3C 40|F3 05", 1),
    ("sysex ends running status", "90 3C 40 F0 01 F7 3E 40", "90 3C 40|F0 01 F7", 1),
    # JACK midiport.h: an event is a whole message, so a packet starts without running status.
    ("running status does not cross packets", "90 3C 40/3E 40", "90 3C 40", 1),
    # "System Real Time": may come at any time, even between the bytes of a message.
    ("clock inside a note", "90 3C F8 40", "F8|90 3C 40", 0),
    ("clock between status and data", "90 F8 3C 40", "F8|90 3C 40", 0),
    ("start, continue, stop", "FA FB FC", "FA|FB|FC", 0),
    ("active sensing and reset", "FE FF", "FE|FF", 0),
    ("clock inside sysex", "F0 01 F8 02 F7", "F8|F0 01 02 F7", 0),
    # "System Real Time": F9 and FD are undefined, receivers ignore them.
    ("undefined real time is dropped", "90 3C F9 40", "90 3C 40", 1),
    ("undefined real time keeps running status", "90 3C 40 FD 3E 40", "90 3C 40|90 3E 40", 1),
    # "System Common": F1 one data byte, F2 two, F3 one, F6 none; F4 and F5 undefined.
    ("quarter frame", "F1 05", "F1 05", 0),
    ("song position", "F2 10 02", "F2 10 02", 0),
    ("tune request", "F6", "F6", 0),
    ("undefined common with its data is dropped", "F4 01 02 90 3C 40", "90 3C 40", 1),
    # "System Exclusive": ends at F7 or at any other status that is not real time.
    ("sysex", "F0 7D 01 02 F7", "F0 7D 01 02 F7", 0),
    ("empty sysex", "F0 F7", "F0 F7", 0),
    ("sysex in pieces", "F0 7D/01 02/03 F7", "F0 7D 01 02 03 F7", 0),
    ("sysex ended by a note", "F0 01 02 90 3C 40", "F0 01 02 F7|90 3C 40", 0),
    ("sysex ended by a note in the next packet", "F0 01 02/90 3C 40", "F0 01 02 F7|90 3C 40", 0),
    ("sysex ended by sysex", "F0 01 F0 02 F7", "F0 01 F7|F0 02 F7", 0),
    ("sysex ended by tune request", "F0 01 F6", "F0 01 F7|F6", 0),
    ("clock between the pieces of a sysex", "F0 01/F8/02 F7", "F8|F0 01 02 F7", 0),
    ("a lone F7 is dropped", "F7", "", 1),
    ("sysex then a lone F7", "F0 01 F7 F7", "F0 01 F7", 1),
    # Table I again: incomplete messages and bytes astray are no messages.
    ("data without status", "3C 40", "", 1),
    ("status without data", "90", "", 1),
    ("half a note", "90 3C", "", 1),
    ("half a note, then a whole one", "90 3C 90 3E 40", "90 3E 40", 1),
    ("half a running note", "90 3C 40 3E", "90 3C 40", 1),
    ("data above 7F is a status", "90 C8 40", "C8 40", 1),
    ("half a note before sysex", "90 3C F0 01 F7", "F0 01 F7", 1),
    ("an empty packet", "", "", 0),
]


def packets_of(text: str) -> list[bytes]:
    return [bytes.fromhex(packet) for packet in text.split("/")]


def messages_of(text: str) -> list[bytes]:
    return [bytes.fromhex(message) for message in text.split("|") if message]


@pytest.mark.parametrize(("name", "packets", "messages", "rejected"), ROWS, ids=lambda v: str(v))
def test_the_table(name, packets, messages, rejected):
    cleaner = Cleaner()
    got = [message for packet in packets_of(packets) for message in cleaner.feed(packet)]
    assert got == messages_of(messages)
    assert cleaner.rejected == rejected


def test_the_table_is_long_enough():
    assert len(ROWS) >= 20


@pytest.mark.parametrize(
    ("status", "count"),
    [
        # MIDI 1.0, tables I and V.
        (0x80, 2), (0x9F, 2), (0xA0, 2), (0xB0, 2), (0xC0, 1), (0xDF, 1), (0xE3, 2),
        (0xF0, None), (0xF1, 1), (0xF2, 2), (0xF3, 1), (0xF4, None), (0xF5, None), (0xF6, 0),
        (0xF7, None), (0xF8, 0), (0xF9, None), (0xFA, 0), (0xFB, 0), (0xFC, 0), (0xFD, None),
        (0xFE, 0), (0xFF, 0),
    ],
)  # fmt: skip
def test_data_bytes(status, count):
    assert data_bytes(status) == count


@pytest.mark.parametrize("packets", [row[1] for row in ROWS])
def test_whole_messages_are_whole(packets):
    cleaner = Cleaner()
    for packet in packets_of(packets):
        assert all(is_whole(message) for message in cleaner.feed(packet))


@pytest.mark.parametrize(
    "junk",
    ["", "3C 40", "90", "90 3C", "90 C8 40", "90 3C 40 3E 40", "F0 01", "F0", "F0 80 F7", "F7",
     "F4", "FD", "C0 01 02", "F8 F8"],
)  # fmt: skip
def test_junk_is_not_whole(junk):
    assert not is_whole(bytes.fromhex(junk))


def test_in_sysex_tells_of_a_dump_that_has_not_ended():
    cleaner = Cleaner()
    assert not cleaner.in_sysex
    cleaner.feed(b"\xf0\x01")
    assert cleaner.in_sysex
    cleaner.feed(b"\xf8")
    assert cleaner.in_sysex
    cleaner.feed(b"\xf7")
    assert not cleaner.in_sysex


@pytest.mark.parametrize(("data", "kept"), [(MAX_SYSEX_BYTES - 2, 1), (MAX_SYSEX_BYTES - 1, 0)])
def test_a_sysex_that_never_ends_does_not_grow_for_ever(data, kept):
    cleaner = Cleaner()
    cleaner.feed(b"\xf0")
    for _ in range(3 if kept == 0 else 1):
        cleaner.feed(bytes(data))
    assert len(cleaner.feed(b"\xf7")) == kept
    assert cleaner.rejected == 1 - kept
    assert cleaner.feed(b"\x90\x3c\x40") == (b"\x90\x3c\x40",)


VALID = st.one_of(
    st.builds(
        lambda kind, a, b: bytes((kind, a, b)[: 1 + (data_bytes(kind) or 0)]),
        st.integers(0x80, 0xEF),
        st.integers(0, 127),
        st.integers(0, 127),
    ),
    st.sampled_from([b"\xf8", b"\xfa", b"\xfc", b"\xfe", b"\xf6", b"\xf2\x01\x02", b"\xf1\x05"]),
    st.binary(max_size=9).map(lambda raw: b"\xf0" + bytes(b & 0x7F for b in raw) + b"\xf7"),
)


@given(st.lists(VALID, max_size=20))
def test_valid_messages_pass_unchanged_alone_and_packed(messages):
    alone, packed = Cleaner(), Cleaner()
    assert [m for one in messages for m in alone.feed(one)] == messages
    assert list(packed.feed(b"".join(messages))) == messages
    assert alone.rejected == packed.rejected == 0


@given(st.lists(st.binary(max_size=12), max_size=12))
def test_whatever_comes_only_whole_messages_leave(packets):
    cleaner = Cleaner()
    for packet in packets:
        for message in cleaner.feed(packet):
            assert is_whole(message)


def test_a_hundred_thousand_random_packets():
    rng = random.Random(20260101)
    cleaner = Cleaner()
    passed = 0
    for _ in range(100_000):
        for message in cleaner.feed(rng.randbytes(rng.randrange(6))):
            assert is_whole(message)
            passed += 1
    assert passed > 10_000
    assert cleaner.rejected > 10_000


@given(VALID.filter(lambda m: m[0] < 0xF0), st.data())
def test_real_time_anywhere_inside_changes_nothing_else(message, data):
    at = data.draw(st.integers(0, len(message)))
    got = Cleaner().feed(message[:at] + b"\xf8" + message[at:])
    assert sorted(got) == sorted((message, b"\xf8"))
