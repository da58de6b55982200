"""`undersong render`: a MIDI file played by the built-in sounds, as a WAV file."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Final

from live.faces.output import emit_json, plural, say
from live.ports.files import read_song
from live.ports.render import render_song, write_wav

SAMPLE_RATE_HZ: Final = 48_000


def run(args: argparse.Namespace) -> int:
    """Render the file and say how long it is."""
    song = read_song(args.source)
    audio = render_song(song, sample_rate_hz=SAMPLE_RATE_HZ)
    write_wav(Path(args.target), audio, SAMPLE_RATE_HZ)
    length_s = len(audio) / SAMPLE_RATE_HZ
    if args.json:
        facts = {"file": args.target, "length_s": round(length_s, 3), "notes": len(song.notes)}
        emit_json(facts | {"sample_rate_hz": SAMPLE_RATE_HZ})
    else:
        say(f"{args.target}: {length_s:.1f} s, {plural(len(song.notes), 'note')}")
    return 0
