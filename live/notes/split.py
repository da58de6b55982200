"""What a driver delivers, as whole valid MIDI 1.0 messages.

A driver may hand over several messages in one packet, a system exclusive in pieces or with clock
inside it, or plain junk. Nothing but whole messages leaves here, and what is dropped is counted.
Source of the rules: MIDI 1.0 Detailed Specification 4.2.1 (MMA 1996), "Running Status",
"System Real Time", "System Exclusive"; JACK midiport.h ("event data must be a whole message").
"""

from __future__ import annotations

from typing import Final

_SYSEX: Final = 0xF0
_END_OF_SYSEX: Final = 0xF7
_FIRST_REAL_TIME: Final = 0xF8
_UNDEFINED: Final = frozenset({0xF4, 0xF5, 0xF9, 0xFD})
"""Status bytes without a meaning; receivers ignore them (the same specification, table V)."""

_CHANNEL_DATA_BYTES: Final = (2, 2, 2, 2, 1, 1, 2)
"""Data bytes after statuses 8n, 9n, An, Bn, Cn, Dn, En (table I)."""

_SYSTEM_DATA_BYTES: Final = {0xF1: 1, 0xF2: 2, 0xF3: 1, 0xF6: 0}
"""Data bytes of the system common messages (table V)."""

MAX_SYSEX_BYTES: Final = 65_536
"""Longest system exclusive that is kept, ends included; our own limit."""


def data_bytes(status: int) -> int | None:
    """Data bytes that follow `status` (0x80 to 0xFF); None for sysex and undefined statuses."""
    if status < _SYSEX:
        return _CHANNEL_DATA_BYTES[(status >> 4) - 8]
    if status >= _FIRST_REAL_TIME:
        return None if status in _UNDEFINED else 0
    return _SYSTEM_DATA_BYTES.get(status)


def is_whole(data: bytes) -> bool:
    """True if `data` is exactly one valid MIDI 1.0 message with its status byte.

    Thread: any; pure. A system exclusive is whole from F0 to F7 with data bytes only between.
    """
    if not data or data[0] < 0x80:
        return False
    if data[0] == _SYSEX:
        return len(data) > 1 and data[-1] == _END_OF_SYSEX and _all_data(data[1:-1])
    wanted = data_bytes(data[0])
    return wanted is not None and len(data) == wanted + 1 and _all_data(data[1:])


def _all_data(data: bytes) -> bool:
    """True if every byte is below 0x80."""
    return not data or max(data) < 0x80


class Cleaner:
    """Splits one input's packets into whole messages; one object for each input.

    Running status holds inside a packet only, because a driver's packet begins a message unless
    it continues a system exclusive. A system exclusive that another status interrupts is closed
    with F7 and kept: by the specification that status ends it as well as F7 does.

    Fields:
        rejected: messages and stray bytes dropped since the start, each run of bytes once.
    Thread: one owner. Cost: under 1 us for a channel message that is already whole.
    """

    __slots__ = ("_need", "_out", "_part", "_running", "_straying", "_sysex", "rejected")

    def __init__(self) -> None:
        self.rejected = 0
        self._sysex: bytearray | None = None
        self._part = bytearray()
        self._need: int | None = None
        self._running = False
        self._straying = False
        self._out: list[bytes] = []

    @property
    def in_sysex(self) -> bool:
        """True while a system exclusive has begun and not ended."""
        return self._sysex is not None

    def feed(self, data: bytes) -> tuple[bytes, ...]:
        """Take one packet from the driver.

        Args:
            data: the packet's raw bytes; may be empty.
        Returns: whole messages in the order in which they were completed.
        """
        if len(data) == 3 and self._sysex is None:
            status, first, second = data
            three_long = 0x80 <= status < 0xC0 or 0xE0 <= status < 0xF0
            if three_long and first < 0x80 and second < 0x80:
                return (data,)
        return self._walk(data)

    def _walk(self, data: bytes) -> tuple[bytes, ...]:
        """The general way: byte by byte."""
        self._out = []
        for byte in data:
            if byte >= _FIRST_REAL_TIME:
                self._take_real_time(byte)
            elif byte >= 0x80:
                self._take_status(byte)
            else:
                self._take_data(byte)
        self._drop_part()
        self._need = None
        self._straying = False
        return tuple(self._out)

    def _take_real_time(self, byte: int) -> None:
        """Real-time messages pass at once and disturb nothing, wherever they stand."""
        if byte in _UNDEFINED:
            self.rejected += 1
        else:
            self._out.append(bytes((byte,)))

    def _take_status(self, byte: int) -> None:
        """Any status but real time ends what was there before."""
        self._drop_part()
        self._straying = False
        self._need = None
        ended = self._end_sysex()
        if byte == _SYSEX:
            self._sysex = bytearray((byte,))
        elif byte == _END_OF_SYSEX:
            self.rejected += not ended
        else:
            self._begin(byte)

    def _begin(self, status: int) -> None:
        """Start a channel or system common message."""
        self._running = False
        self._need = data_bytes(status)
        if self._need is None:
            self.rejected += 1
            self._straying = True
        elif self._need == 0:
            self._out.append(bytes((status,)))
            self._need = None
        else:
            self._part.append(status)

    def _take_data(self, byte: int) -> None:
        """A data byte: of the system exclusive, of the message begun, or astray."""
        if self._sysex is not None:
            self._grow_sysex(byte)
        elif self._need is None:
            self.rejected += not self._straying
            self._straying = True
        else:
            self._grow_part(byte)

    def _grow_part(self, byte: int) -> None:
        """Complete the message begun; a channel message leaves its status running."""
        self._part.append(byte)
        if self._need is None or len(self._part) <= self._need:
            return
        self._out.append(bytes(self._part))
        self._running = True
        if self._part[0] < _SYSEX:
            del self._part[1:]
        else:
            self._part.clear()
            self._need = None

    def _grow_sysex(self, byte: int) -> None:
        """Keep a data byte of a system exclusive, up to the limit; beyond it is counted once."""
        if self._sysex is not None and len(self._sysex) < MAX_SYSEX_BYTES:
            self._sysex.append(byte)
            self.rejected += len(self._sysex) == MAX_SYSEX_BYTES  # no room for F7

    def _end_sysex(self) -> bool:
        """Close an open system exclusive; False if there was none. Too long ones are dropped."""
        if self._sysex is None:
            return False
        if len(self._sysex) < MAX_SYSEX_BYTES:
            self._sysex.append(_END_OF_SYSEX)
            self._out.append(bytes(self._sysex))
        self._sysex = None
        return True

    def _drop_part(self) -> None:
        """Forget a message that stayed incomplete; a bare running status is not one."""
        if self._part:
            self.rejected += len(self._part) > 1 or not self._running
            self._part.clear()
