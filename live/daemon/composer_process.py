"""The composer as a process: `python -m live.daemon.composer_process`.

Reads ("compose", request, Brief) and ("vocabulary", Vocabulary or None) frames from standard input
and writes (request, choices, problem) frames. It runs at a lower priority than the rest, for its
work can wait a little and notes cannot.
"""

from __future__ import annotations

import gc
import os
import signal
import sys
from typing import Any, cast

from live.answer.compose import compose
from live.answer.vocabulary import Vocabulary
from live.daemon.wire import read_frame, write_frame
from live.notes.phrase import Brief, Choice


def main() -> int:
    """Compose until the pipe ends."""
    for name in ("SIGINT", "SIGHUP"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), signal.SIG_IGN)  # the pipe's end tells us
    if hasattr(os, "nice"):
        os.nice(5)
    gc.freeze()  # full collections need not go through the tables (30 ms on a busy machine)
    vocabulary: Vocabulary | None = None
    while True:
        frame = cast("tuple[Any, ...] | None", read_frame(sys.stdin.buffer))
        if frame is None:
            return 0
        if frame[0] == "vocabulary":
            vocabulary = frame[1]
            if vocabulary is not None and vocabulary.is_ready:
                vocabulary.prepare()
            continue
        request: int = frame[1]
        brief: Brief = frame[2]
        choices: tuple[Choice, ...] = ()
        problem = ""
        try:
            choices = compose(brief, vocabulary)
        except Exception as error:  # noqa: BLE001 - one bad call must not end the composer
            problem = f"the composer failed on a call: {error!r}"
        try:
            write_frame(sys.stdout.buffer, (request, choices, problem))
        except OSError:
            return 0


if __name__ == "__main__":
    sys.exit(main())
