"""The bytes of a Standard MIDI File, read leniently where files in the wild are sloppy.

Source: Standard MIDI Files 1.0 (MMA RP-001): chunks, variable-length quantities, running status.
Unknown chunks are skipped, a longer header is accepted, a wrong track count in the header and a
missing end-of-track are forgiven; everything else that breaks the format is a FieldError.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from pathlib import Path
from typing import Final, NamedTuple

from live.notes.split import data_bytes
from live.theory.errors import FieldError

META: Final = 0xFF
SYSEX: Final = 0xF0
SYSEX_GOES_ON: Final = 0xF7
TEXT: Final = 0x01
TRACK_NAME: Final = 0x03
END_OF_TRACK: Final = 0x2F
TEMPO: Final = 0x51
TIME_SIGNATURE: Final = 0x58
KEY_SIGNATURE: Final = 0x59

_MAX_FILE_BYTES: Final = 64 * 1024 * 1024
"""Larger files are refused; our own limit."""

_FRAME_RATES_HZ: Final = {24: 24.0, 25: 25.0, 29: 30_000 / 1001, 30: 30.0}
"""SMPTE frames a second by the header's code; 29 is drop-frame (RP-001, division)."""


class RawEvent(NamedTuple):
    """One event of a track.

    Fields:
        tick: from the start of the track, in the file's own ticks.
        delta: the bytes of its delta time.
        status: 0x80 to 0xEF with the channel, 0xF0, 0xF7 or 0xFF.
        meta: type of a meta event, else -1.
        data: data bytes of a channel message, content of a meta event or system exclusive.
        raw: the event's bytes as they stand in the file; without status where it runs on.
    """

    tick: int
    delta: bytes
    status: int
    meta: int
    data: bytes
    raw: bytes


class RawTrack(NamedTuple):
    """A track's events, and what follows its end-of-track inside the chunk."""

    events: tuple[RawEvent, ...]
    rest: bytes


@dataclass(frozen=True, slots=True)
class RawFile:
    """A file in pieces.

    Args:
        format: 0, 1 or 2.
        division: the header's division as it stands: ticks in a beat, or SMPTE below 0.
        chunks: every chunk in order, the header included: four letters and the content.
        tracks: the track chunks among them, parsed; in the same order.
    """

    format: int
    division: int
    chunks: tuple[tuple[bytes, bytes], ...]
    tracks: tuple[RawTrack, ...]

    @property
    def ticks_a_second(self) -> float | None:
        """For a file in SMPTE time, else None."""
        if self.division > 0:
            return None
        code, parts = -(self.division >> 8), self.division & 0xFF
        return _FRAME_RATES_HZ[code] * parts


def read_raw(path: str | Path) -> RawFile:
    """Read a file in pieces.

    Raises: FieldError("file", ...) for whatever is wrong with it, the missing file included.
    Thread: any.
    """
    try:
        with Path(path).open("rb") as stream:
            data = stream.read(_MAX_FILE_BYTES + 1)
    except (OSError, ValueError) as error:
        why = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise FieldError("file", "a file that can be read", f"{path}: {why}") from error
    if len(data) > _MAX_FILE_BYTES:
        raise FieldError("file", "64 MiB at most", str(path))
    return parse(data, str(path))


def parse(data: bytes, name: str = "") -> RawFile:
    """Take a file's bytes apart; `name` is for error messages."""
    chunks = _chunks(data, name)
    content = chunks[0][1]
    if len(content) < 6:
        raise FieldError("file", "a header of 6 bytes or more", len(content), name)
    kind, _, division = struct.unpack(">HHh", content[:6])
    if kind > 2:
        raise FieldError("file", "format 0, 1 or 2", kind, name)
    _check_division(division, name)
    contents = [content for letters, content in chunks if letters == b"MTrk"]
    if not contents:
        raise FieldError("file", "one track or more", 0, name)
    tracks = [_Reader(c, f"{name}, track {n}").track() for n, c in enumerate(contents, start=1)]
    return RawFile(kind, division, tuple(chunks), tuple(tracks))


def _chunks(data: bytes, name: str) -> list[tuple[bytes, bytes]]:
    """Split into chunks; bytes too few for another chunk at the end are ignored."""
    if data[:4] != b"MThd":
        raise FieldError("file", "a Standard MIDI File, which begins with MThd", data[:4], name)
    found, at = [], 0
    while len(data) - at >= 8:
        letters, length = struct.unpack(">4sI", data[at : at + 8])
        content = data[at + 8 : at + 8 + length]
        if len(content) < length:
            wanted = f"{length} bytes from byte {at + 8} on; the file ends before"
            raise FieldError("file", wanted, len(content), name)
        found.append((letters, content))
        at += 8 + length
    if not found:
        raise FieldError("file", "a whole header", f"{len(data)} bytes", name)
    return found


def _check_division(division: int, name: str) -> None:
    """Ticks in a beat above 0, or a known SMPTE frame rate with parts above 0."""
    smpte = division < 0 and -(division >> 8) in _FRAME_RATES_HZ and division & 0xFF
    if division <= 0 and not smpte:
        raise FieldError("file", "ticks in a beat, or SMPTE at 24, 25, 29 or 30", division, name)


class _Reader:
    """Walks through one track's bytes."""

    def __init__(self, data: bytes, where: str) -> None:
        self._data = data
        self._where = where
        self._at = 0
        self._running = 0

    def track(self) -> RawTrack:
        """All events up to and including end-of-track."""
        events: list[RawEvent] = []
        tick = 0
        while self._at < len(self._data):
            start = self._at
            tick += self._number()
            event = self._event(tick, self._data[start : self._at])
            events.append(event)
            if event.meta == END_OF_TRACK:
                break
        return RawTrack(tuple(events), self._data[self._at :])

    def _event(self, tick: int, delta: bytes) -> RawEvent:
        start, meta = self._at, -1
        status = self._status()
        if status == META:
            meta = self._take(1)[0]
        if status < SYSEX:
            data = self._take(data_bytes(status) or 0)
            if max(data) >= 0x80:
                raise self._broken("data bytes below 0x80", data.hex(" "))
        else:
            data = self._take(self._number())
        return RawEvent(tick, delta, status, meta, data, self._data[start : self._at])

    def _status(self) -> int:
        """The event's status; only channel messages leave one running, meta events keep it."""
        status = self._take(1)[0]
        if status < 0x80:
            if not self._running:
                raise self._broken("a status byte, none is running", f"0x{status:02x}")
            self._at -= 1
            return self._running
        if status < SYSEX:
            self._running = status
        elif status not in {SYSEX, SYSEX_GOES_ON, META}:
            raise self._broken("a status that may stand in a file", f"0x{status:02x}")
        return status

    def _number(self) -> int:
        """A variable-length quantity of 1 to 4 bytes."""
        value = 0
        for _ in range(4):
            byte = self._take(1)[0]
            value = value << 7 | byte & 0x7F
            if byte < 0x80:
                return value
        raise self._broken("a number of 4 bytes or fewer", "a longer one")

    def _take(self, count: int) -> bytes:
        taken = self._data[self._at : self._at + count]
        if len(taken) < count:
            raise self._broken(f"{count} more bytes", len(taken))
        self._at += count
        return taken

    def _broken(self, allowed: str, got: object) -> FieldError:
        return FieldError("file", allowed, got, f"{self._where}, byte {self._at}")


def write_number(value: int) -> bytes:
    """A variable-length quantity; `value` 0 to 0x0FFFFFFF."""
    groups = [value & 0x7F]
    while value := value >> 7:
        groups.append(value & 0x7F | 0x80)
    return bytes(reversed(groups))
