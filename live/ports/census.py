"""Whether a JACK server that has fallen silent has died, asked from a process of its own.

Silence alone does not tell: a server that waits for its clients stands still for 5 s when one of
them is killed, and then goes on with every connection. But a dead one refuses new clients, and one
that was started anew answers and knows none of our ports. A server that stands still does neither:
it lets the question wait.
"""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
from typing import Final

from live.clock.units import NS_PER_S

ASK_AGAIN_NS: Final = NS_PER_S // 10
"""Pause between an answer and the next question."""

ASK_ANOTHER_NS: Final = NS_PER_S
MOST_ASKED: Final = 4
"""A question that is not answered for so long is left to wait and another is asked, up to so many:
one that fell into the server's last moment is never answered."""

ANSWERS_NEEDED: Final = 2
"""So many answers in a row that it is gone: one may fall into a moment of starting up."""

_LAST_ANSWER_S: Final = 1.0
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
    """Asks a silent server for one of our ports, again and again.

    A question without an answer is left to wait while the server may live: to kill a client would
    make the server stand still once more.

    Args:
        client: the name our clients begin with.
        port: full name of an input of ours.
    Thread: one owner. Starting a process takes a few milliseconds; nothing here waits.
    """

    def __init__(self, client: str, port: str) -> None:
        self._command = [sys.executable, "-c", _CHILD, f"{client} census", port]
        self._open: list[subprocess.Popen[bytes]] = []
        self._next_ns = 0
        self._gone = 0

    def gone(self, now_ns: int) -> bool:
        """True once the server is known to be dead, or to be another one. Call it when silent."""
        for question in self._open:
            status = question.poll()
            if status is not None:
                self._gone = self._gone + 1 if status in (_REFUSED, _UNKNOWN) else 0
                self._next_ns = now_ns + ASK_AGAIN_NS
        self._open = [question for question in self._open if question.poll() is None]
        if self._gone >= ANSWERS_NEEDED:
            self._give_up()
            return True
        if now_ns >= self._next_ns and len(self._open) < MOST_ASKED:
            self._open.append(self._ask())
            self._next_ns = now_ns + ASK_ANOTHER_NS
        return False

    def rest(self) -> None:
        """The server has been heard: what was answered before counts no more."""
        self._gone = 0

    def close(self) -> None:
        """Ask no more. Waits a little for what is being answered."""
        for question in self._open:
            with contextlib.suppress(subprocess.TimeoutExpired):
                question.wait(_LAST_ANSWER_S)
        self._give_up()

    def _give_up(self) -> None:
        for question in self._open:
            question.kill()
            question.wait()
        self._open = []

    def _ask(self) -> subprocess.Popen[bytes]:
        nothing = subprocess.DEVNULL
        environment = {**os.environ, "JACK_NO_START_SERVER": "1"}
        return subprocess.Popen(
            self._command, stdin=nothing, stdout=nothing, stderr=nothing, env=environment
        )
