"""Fuzzes the splitter, guided by coverage: python -m tests.fuzz.splitter --minutes N [--keep]

Held against a second reading of the specification (tests/fuzz/stream_model.py), and against mido's
parser on the streams that mido reads rightly.
"""

from __future__ import annotations

import sys
from pathlib import Path

import mido

from live.notes import split
from tests.fuzz import guide, stream_model

CORPUS = Path(__file__).parent / "corpus" / "splitter.txt"
CUT = 256
"""The number that stands for the end of a packet."""
SHORT_SYSEX_BYTES = 40
"""In the fuzzer the limit of a system exclusive is low, so that it is reached."""

_WORDS: list[guide.Input] = [
    *((status,) for status in range(0x80, 0x100, 0x10)),
    *((status,) for status in range(0xF0, 0x100)),
    (CUT,),
    (0x90, 0x3C, 0x40),
    (0xF0, 0x7D, 0x01, 0xF7),
    (0xF0, *([0x11] * 37)),
    (0xF0, *([0x11] * 38)),
    (0xF0, *([0x11] * 39)),
    (0xF7,),
    (0xF2, 0x01, 0x02),
]


def packets(shape: guide.Input) -> list[bytes]:
    """The packets that an input stands for."""
    found = [bytearray()]
    for number in shape:
        if number == CUT:
            found.append(bytearray())
        else:
            found[-1].append(number)
    return [bytes(packet) for packet in found]


def check(shape: guide.Input) -> None:
    """The splitter and the model agree on an input, and so does mido where it can be right."""
    fed = packets(shape)
    read = stream_model.read(fed, split.MAX_SYSEX_BYTES)
    cleaner = split.Cleaner()
    got = [message for packet in fed for message in cleaner.feed(packet)]
    assert got == read.messages, (fed, got, read.messages)
    assert cleaner.rejected == read.rejected, (fed, cleaner.rejected, read.rejected)
    assert cleaner.in_sysex == read.in_sysex, fed
    assert all(split.is_whole(message) for message in got), got
    if read.plain:
        assert got == by_mido(b"".join(fed)), fed


def by_mido(stream: bytes) -> list[bytes]:
    """What mido's parser makes of a stream."""
    parser = mido.Parser()
    parser.feed(stream)
    return [bytes(message.bytes()) for message in parser]


TARGET = guide.Target(check, frozenset({split.__file__}), 257, _WORDS, 160)


def read_line(line: str) -> guide.Input:
    """A line of the corpus: hex bytes, `/` between packets."""
    return tuple(CUT if word == "/" else int(word, 16) for word in line.split())


def write_line(shape: guide.Input) -> str:
    """The line that stands for an input."""
    return " ".join("/" if number == CUT else f"{number:02x}" for number in shape)


if __name__ == "__main__":
    split.MAX_SYSEX_BYTES = SHORT_SYSEX_BYTES
    sys.exit(guide.main(TARGET, CORPUS, read_line, write_line))
