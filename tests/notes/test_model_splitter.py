"""The splitter against a second reading of MIDI 1.0, and against mido's parser where that is right.

The second reading (tests/fuzz/stream_model.py) works by one regular expression and shares nothing
with the splitter; it is held against the table of tests/notes/test_split.py itself.
"""

from __future__ import annotations

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.notes import split
from live.notes.split import MAX_SYSEX_BYTES, Cleaner
from tests.fuzz import splitter
from tests.fuzz.splitter import by_mido
from tests.fuzz.stream_model import read
from tests.notes.test_split import ROWS, VALID, messages_of, packets_of


@pytest.mark.parametrize(("name", "packets", "messages", "rejected"), ROWS, ids=lambda v: str(v))
def test_the_model_reads_the_table_too(name, packets, messages, rejected):
    got = read(packets_of(packets), MAX_SYSEX_BYTES)
    assert got.messages == messages_of(messages)
    assert got.rejected == rejected


# Bytes that mean something come often, so that dumps are begun, cut into and ended.
BYTES = st.one_of(
    st.integers(0, 255),
    st.sampled_from((0xF0, 0xF7, 0xF8, 0xFD, 0xF4, 0x90, 0xC0, 0x00, 0x40, 0x7F)),
)
PACKETS = st.lists(st.lists(BYTES, max_size=12).map(bytes), max_size=8)


@given(PACKETS)
def test_any_packets_are_read_as_the_model_reads_them(packets):
    cleaner, model = Cleaner(), read(packets, MAX_SYSEX_BYTES)
    assert [message for packet in packets for message in cleaner.feed(packet)] == model.messages
    assert (cleaner.rejected, cleaner.in_sysex) == (model.rejected, model.in_sysex)


def test_two_hundred_thousand_bytes_are_read_as_the_model_reads_them(monkeypatch):
    rng = random.Random(340)
    monkeypatch.setattr(split, "MAX_SYSEX_BYTES", 40)
    heavy = (0xF0, 0xF7, 0xF8, 0x90, 0x80, 0xB0, 0xC0, 0xE0, 0xF2, 0xF4, 0xFD)
    for _ in range(4_000):
        kinds = [rng.choice(heavy) if rng.random() < 0.3 else rng.randrange(140) for _ in range(50)]
        splitter.check(tuple(rng.choice((kind, kind, kind, kind, 256)) for kind in kinds))


@pytest.mark.parametrize("cuts", range(1, 6))
def test_a_dump_may_be_cut_into_any_packets(cuts):
    # RtMidi on ALSA hands a dump over in pieces of 256 bytes; JACK lets an event be a part of one.
    rng = random.Random(cuts)
    dump = b"\xf0" + bytes(rng.randrange(128) for _ in range(3000)) + b"\xf7"
    at = sorted(rng.sample(range(1, len(dump)), cuts))
    cleaner = Cleaner()
    parts = [dump[a:b] for a, b in zip([0, *at], [*at, len(dump)], strict=True)]
    got = [one for part in parts for one in (*cleaner.feed(part), *cleaner.feed(b"\xf8"))]
    assert [one for one in got if one != b"\xf8"] == [dump]
    assert got.count(b"\xf8") == cuts + 1  # clock is not held back by it
    assert cleaner.rejected == 0


def test_a_dump_over_the_limit_is_counted_once_as_soon_as_it_is_over_it():
    cleaner = Cleaner()
    cleaner.feed(b"\xf0" + bytes(MAX_SYSEX_BYTES - 2))
    assert cleaner.rejected == 0
    assert cleaner.feed(b"\x00\xf8\x01") == (b"\xf8",)  # it never ended, and it counts already
    assert cleaner.rejected == 1
    for _ in range(4):
        assert cleaner.feed(bytes(MAX_SYSEX_BYTES)) == ()
    assert cleaner.feed(b"\xf7\x90\x3c\x40") == (b"\x90\x3c\x40",)
    assert cleaner.rejected == 1


def test_a_dump_that_never_ends_holds_up_no_note():
    cleaner = Cleaner()
    cleaner.feed(b"\xf0\x01\x02")
    assert cleaner.feed(b"\x90\x3c\x40") == (b"\xf0\x01\x02\xf7", b"\x90\x3c\x40")
    assert not cleaner.in_sysex


@given(st.lists(VALID, max_size=30))
def test_mido_and_we_read_whole_messages_alike(messages):
    stream = b"".join(messages)
    assert list(Cleaner().feed(stream)) == by_mido(stream) == messages


MIDO_IS_WRONG = [
    # In each row: the rule (MIDI 1.0 Detailed Specification 4.2.1), a stream, what mido 1.3 makes
    # of it, what the rule says. Issues: mido 340 and its pull request 341 for the first two rows.
    ("running status", "90 3C 40 3E 40", "90 3C 40", "90 3C 40|90 3E 40"),
    ("running status, one data byte", "C0 01 02", "C0 01", "C0 01|C0 02"),
    ("real time inside a note", "90 3C F8 40", "F8", "F8|90 3C 40"),
    ("real time before its data", "90 F8 3C 40", "F8", "F8|90 3C 40"),
    ("undefined real time inside a note", "90 3C F9 40", "", "90 3C 40"),
    ("real time inside song position", "F2 10 F8 02", "F8", "F8|F2 10 02"),
    ("real time does not end running status", "90 3C 40 F8 3E 40", "90 3C 40|F8",
     "90 3C 40|F8|90 3E 40"),
    ("any status ends a dump", "F0 01 02 90 3C 40", "90 3C 40", "F0 01 02 F7|90 3C 40"),
    ("another dump ends a dump", "F0 01 F0 02 F7", "F0 02 F7", "F0 01 F7|F0 02 F7"),
    ("tune request ends a dump", "F0 01 F6", "F6", "F0 01 F7|F6"),
    ("an undefined status ends a dump", "F0 01 F4 02 F7", "F0 01 02 F7", "F0 01 F7"),
    ("an undefined status ends a message", "90 3C F4 40", "90 3C 40", ""),
]  # fmt: skip


@pytest.mark.parametrize(("rule", "stream", "mido_says", "right"), MIDO_IS_WRONG)
def test_where_mido_is_wrong_we_are_right(rule, stream, mido_says, right):
    data = bytes.fromhex(stream)
    assert by_mido(data) == messages_of(mido_says)
    assert mido_says != right
    assert list(Cleaner().feed(data)) == messages_of(right)
    model = read([data], MAX_SYSEX_BYTES)
    assert model.messages == messages_of(right)
    assert not model.plain  # the fuzzer does not ask mido there
