"""Standard MIDI Files byte by byte.

FORMAT_0 and FORMAT_1 are the two example files in the appendix of RP-001 (MMA, Standard MIDI
Files 1.0), written from memory; the chunk lengths, which are part of it, agree with the contents.
Both hold the same music: a bar of 4/4 at 120, three channels.
"""

from __future__ import annotations

import re
import struct


def from_hex(text: str) -> bytes:
    """Bytes from hex with a comment after # on each line."""
    return bytes.fromhex(re.sub(r"#.*", "", text))


def chunk(letters: bytes, content: bytes) -> bytes:
    """A chunk with its length."""
    return letters + struct.pack(">I", len(content)) + content


def smf(*tracks: str | bytes, kind: int = 1, division: int = 96) -> bytes:
    """A file with tracks given as commented hex or bytes."""
    header = struct.pack(">HHh", kind, len(tracks), division)
    contents = [from_hex(track) if isinstance(track, str) else track for track in tracks]
    return chunk(b"MThd", header) + b"".join(chunk(b"MTrk", content) for content in contents)


END = "00 FF 2F 00"

FORMAT_0 = from_hex("""
    4D 54 68 64  00 00 00 06    # MThd, 6 bytes
    00 00  00 01  00 60         # format 0, one track, 96 ticks a beat
    4D 54 72 6B  00 00 00 3B    # MTrk, 59 bytes
    00  FF 58 04  04 02 18 08   # 4/4, 24 clocks a click, 8 thirty-seconds a beat
    00  FF 51 03  07 A1 20      # 500000 us a beat
    00  C0 05                   # programs
    00  C1 2E
    00  C2 46
    00  92 30 60                # channel 3: 48
    00     3C 60                # and 60, running status
    60  91 43 40                # channel 2: 67, a beat later
    60  90 4C 20                # channel 1: 76, another beat later
    81 40  82 30 40             # two beats later all notes off; two-byte delta time
    00     3C 40
    00  81 43 40
    00  80 4C 40
    00  FF 2F 00                # end of track
""")

FORMAT_1 = from_hex("""
    4D 54 68 64  00 00 00 06    # MThd, 6 bytes
    00 01  00 04  00 60         # format 1, four tracks, 96 ticks a beat
    4D 54 72 6B  00 00 00 14    # MTrk, 20 bytes: tempo track
    00  FF 58 04  04 02 18 08
    00  FF 51 03  07 A1 20
    83 00  FF 2F 00             # end of track at 384
    4D 54 72 6B  00 00 00 10    # MTrk, 16 bytes
    00  C0 05
    81 40  90 4C 20
    81 40     4C 00             # running status, velocity 0 is off
    00  FF 2F 00
    4D 54 72 6B  00 00 00 0F    # MTrk, 15 bytes
    00  C1 2E
    60  91 43 40
    82 20     43 00
    00  FF 2F 00
    4D 54 72 6B  00 00 00 15    # MTrk, 21 bytes
    00  C2 46
    00  92 30 60
    00     3C 60
    83 00     30 00
    00        3C 00
    00  FF 2F 00
""")

MALFORMED = {
    "empty": b"",
    "another kind of file": b"RIFF" + bytes(40),
    "text": b"hello world, this is no music",
    "header cut": FORMAT_0[:10],
    "no track": FORMAT_0[:14],
    "track header cut": FORMAT_0[:18],
    "track cut": FORMAT_0[:-5],
    "header of 4 bytes": chunk(b"MThd", b"\0\1\0\1") + chunk(b"MTrk", from_hex(END)),
    "format 3": smf(END, kind=3),
    "division 0": smf(END, division=0),
    "SMPTE at 17 frames": smf(END, division=-17 << 8 | 40),
    "SMPTE with 0 parts": smf(END, division=-25 << 8),
    "running status from nowhere": smf("00 3C 40" + END),
    "status F1 in a track": smf("00 F1 05" + END),
    "status F8 in a track": smf("00 F8" + END),
    "data byte above 7F": smf("00 90 3C 80" + END),
    "note cut by the chunk's end": smf("00 90 3C"),
    "delta of five bytes": smf("81 81 81 81 00 90 3C 40" + END),
    "meta longer than the track": smf("00 FF 01 7F 41"),
    "sysex longer than the track": smf("00 F0 7F 41"),
    "meta without length": smf("00 FF 01"),
    "delta alone": smf("00"),
    "tempo of 2 bytes": smf("00 FF 51 02 07 A1" + END),
    "tempo 0": smf("00 FF 51 03 00 00 00" + END),
    "time signature of 1 byte": smf("00 FF 58 01 04" + END),
    "metre of 0 beats": smf("00 FF 58 04 00 02 18 08" + END),
    "metre over 2 to the 255th": smf("00 FF 58 04 04 FF 18 08" + END),
}
