"""A second reading of MIDI 1.0 byte streams, to hold the splitter against.

It shares nothing with the splitter: real-time bytes are taken out first, then one regular
expression cuts what is left into pieces, and every message is put where its last byte stood.
Source of the rules: MIDI 1.0 Detailed Specification 4.2.1 (MMA 1996), "Running Status", "System
Real Time", "System Exclusive", tables I and V (headings from memory); JACK midiport.h for packets:
an event is a whole message, so a packet begins without running status.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

CUT = "\u0100"
"""Stands between two packets."""
_REAL_TIME = re.compile("[\xf8-\xff]")
_UNDEFINED_REAL_TIME = "\xf9\xfd"
_PIECE = re.compile(
    f"""
      (?P<sysex>    \xf0 [\\x00-\\x7f{CUT}]* (?P<f7>\xf7)? )
    | (?P<two>      [\x80-\xbf\xe0-\xef] [\\x00-\\x7f]* )
    | (?P<one>      [\xc0-\xdf] [\\x00-\\x7f]* )
    | (?P<common>   [\xf1\xf3] [\\x00-\\x7f]? | \xf2 [\\x00-\\x7f]{{0,2}} | \xf6 )
    | (?P<no_such>  [\xf4\xf5] [\\x00-\\x7f]* )
    | (?P<lone_end> \xf7 )
    | (?P<stray>    [\\x00-\\x7f]+ )
    | (?P<cut>      {CUT} )
    """,
    re.VERBOSE,
)
_COMMON_LENGTH = {"\xf1": 2, "\xf2": 3, "\xf3": 2, "\xf6": 1}


class Reading(NamedTuple):
    """What a stream holds.

    Fields:
        messages: whole messages by the place of their last byte.
        rejected: runs of bytes that are no message.
        in_sysex: a system exclusive has begun and not ended.
        plain: every message is written out whole, without running status, nothing stands inside
            another message, and nothing is wrong: what any parser must get right.
    """

    messages: list[bytes]
    rejected: int
    in_sysex: bool
    plain: bool


def read(packets: Sequence[bytes], longest_sysex: int) -> Reading:
    """Cut packets into messages; `longest_sysex` counts F0 and F7."""
    return _Reader(packets, longest_sysex).read()


class _Reader:
    def __init__(self, packets: Sequence[bytes], longest_sysex: int) -> None:
        whole = CUT.join(packet.decode("latin-1") for packet in packets)
        self.at = [place for place, char in enumerate(whole) if not _REAL_TIME.match(char)]
        self.rest = "".join(whole[place] for place in self.at)
        self.at.append(len(whole))
        self.longest_sysex = longest_sysex
        self.found: list[tuple[int, str]] = []
        self.rejected = 0
        self.in_sysex = False
        self.plain = True
        for match in _REAL_TIME.finditer(whole):
            if match[0] in _UNDEFINED_REAL_TIME:
                self._reject()
            else:
                self.found.append((match.start(), match[0]))

    def read(self) -> Reading:
        for piece in _PIECE.finditer(self.rest):
            getattr(self, "_" + str(piece.lastgroup).replace("f7", "sysex"))(piece)
        self.found.sort(key=lambda one: one[0])
        messages = [text.encode("latin-1") for _, text in self.found]
        return Reading(messages, self.rejected, self.in_sysex, self.plain)

    def _reject(self, count: int = 1) -> None:
        self.rejected += count
        self.plain &= not count

    def _put(self, text: str, last: int, first: int) -> None:
        """A message that ends at place `last` of the rest and began at `first`."""
        self.plain &= self.at[last] - self.at[first] == last - first
        self.found.append((self.at[last], text))

    def _sysex(self, piece: re.Match[str]) -> None:
        body = piece[0].removesuffix("\xf7").replace(CUT, "")
        ended, end = bool(piece["f7"]), piece.end()
        if len(body) + 1 > self.longest_sysex:
            self._reject()
        elif ended:
            self._put(body + "\xf7", end - 1, piece.start())
        elif end < len(self.rest):  # another status ends it, where that status stands
            self.plain = False
            self._put(body + "\xf7", end, piece.start())
        self.in_sysex = not ended and end == len(self.rest)
        self.plain &= not self.in_sysex and CUT not in piece[0]

    def _channel(self, piece: re.Match[str], data: int) -> None:
        status, rest = piece[0][0], piece[0][1:]
        whole = len(rest) // data
        for number in range(whole):
            last = piece.start() + data * (number + 1)
            first = last - data if number else piece.start()
            self._put(status + rest[data * number : data * (number + 1)], last, first)
        self._reject(len(rest) % data != 0 or whole == 0)
        self.plain &= whole == 1

    def _two(self, piece: re.Match[str]) -> None:
        self._channel(piece, 2)

    def _one(self, piece: re.Match[str]) -> None:
        self._channel(piece, 1)

    def _common(self, piece: re.Match[str]) -> None:
        if len(piece[0]) == _COMMON_LENGTH[piece[0][0]]:
            self._put(piece[0], piece.end() - 1, piece.start())
        else:
            self._reject()

    def _no_such(self, _piece: re.Match[str]) -> None:
        self._reject()

    _lone_end = _stray = _no_such

    def _cut(self, _piece: re.Match[str]) -> None:
        """A packet has ended between two messages."""
