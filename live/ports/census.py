"""Whether a JACK server that has fallen silent has died, asked from a process of its own.

Silence alone does not tell: a server that waits for its clients stands still for 5 s when one of
them is killed, and then goes on with every connection. But a dead one refuses new clients, and one
that was started anew answers and knows none of our ports. A server that stands still does neither:
it lets the question wait.
"""

from __future__ import annotations

import os
import subprocess
import sys
from typing import Final

from live.clock.units import NS_PER_S

ASK_AGAIN_NS: Final = NS_PER_S // 10
"""Pause between an answer and the next question."""

ANSWERS_NEEDED: Final = 2
"""So many answers in a row that it is gone: one may fall into a moment of starting up."""

_REFUSED: Final = 3
_UNKNOWN: Final = 4

_CHILD: Final = f"""
import os, sys, rtmidi
try:
    lister = rtmidi.MidiOut(rtmidi.API_UNIX_JACK, sys.argv[1])
except (rtmidi.RtMidiError, SystemError):
    sys.exit({_REFUSED})
names = [lister.get_port_name(i, encoding=None) for i in range(lister.get_port_count())]
lister.delete()
sys.exit(0 if os.fsencode(sys.argv[2]) in names else {_UNKNOWN})
"""


class Census:
    """Asks a silent server for one of our ports, again and again, one question at a time.

    A question that gets no answer is left to wait: to kill a client would make the server stand
    still once more.

    Args:
        client: the name our clients begin with.
        port: full name of an input of ours.
    Thread: one owner. Starting a process takes a few milliseconds; nothing here waits.
    """

    def __init__(self, client: str, port: str) -> None:
        self._command = [sys.executable, "-c", _CHILD, f"{client} census", port]
        self._asking: subprocess.Popen[bytes] | None = None
        self._next_ns = 0
        self._gone = 0

    def gone(self, now_ns: int) -> bool:
        """True once the server is known to be dead, or to be another one. Call it when silent."""
        if self._asking is None:
            if now_ns >= self._next_ns:
                self._asking = self._ask()
            return False
        status = self._asking.poll()
        if status is None:
            return False
        self._asking = None
        self._next_ns = now_ns + ASK_AGAIN_NS
        self._gone = self._gone + 1 if status in (_REFUSED, _UNKNOWN) else 0
        return self._gone >= ANSWERS_NEEDED

    def rest(self) -> None:
        """The server has been heard: what was answered before counts no more."""
        self._gone = 0

    def _ask(self) -> subprocess.Popen[bytes]:
        nothing = subprocess.DEVNULL
        environment = {**os.environ, "JACK_NO_START_SERVER": "1"}
        return subprocess.Popen(
            self._command, stdin=nothing, stdout=nothing, stderr=nothing, env=environment
        )
