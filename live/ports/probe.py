"""Whether a MIDI service answers, asked from a process of its own.

Opening a client can hang on a stalled server, prints to standard error when there is none, and
in a process that has lost its server it frees memory that is still in use; a child that is killed
when it takes too long has none of these troubles.
"""

from __future__ import annotations

import subprocess
import sys
from typing import Final

PROBE_LIMIT_S: Final = 10.0
"""Longest wait for an answer, in seconds. A JACK server that waits for its clients stands still for
5 s when one is killed (own measurement): to give up sooner would take it for dead, and to kill the
asker then makes it stand still again."""

_CHILD: Final = """
import sys, rtmidi
try:
    rtmidi.MidiIn(int(sys.argv[1]), sys.argv[2]).delete()
except rtmidi.RtMidiError as error:
    print(error)
    sys.exit(1)
"""


def why_not(api: int, client: str, limit_s: float = PROBE_LIMIT_S) -> str:
    """Ask whether a client can be opened.

    Args:
        api: one of RtMidi's API numbers.
        client: client name to try it with.
        limit_s: longest wait in seconds.
    Returns: "" if the service answers, else the reason in the library's words.
    Thread: any.
    """
    command = [sys.executable, "-c", _CHILD, str(api), f"{client} probe"]
    try:
        ended = subprocess.run(
            command,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            timeout=limit_s,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return f"no answer within {limit_s:g} s"
    if ended.returncode == 0:
        return ""
    said = ended.stdout.decode(errors="replace").strip()
    return said or f"the attempt ended with status {ended.returncode}"
