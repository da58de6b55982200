"""Times the engine's own share: on the path of the daemon that a bench starts, and of nothing else.

Python imports this module by itself. In the engine process it notes, for each packet, how long it
took from the stamp in the driver's callback until the message had been handed to the driver: the
inbox, the splitter, the step and the send. The times are written at the end to the file named in
UNDERSONG_BENCH_TIMES, as whole nanoseconds, eight bytes each. Costs well under 1 us of the time.
"""

from __future__ import annotations

import atexit
import os
import sys
import time
from array import array
from pathlib import Path


def _measure(path: str) -> None:
    from live.daemon.engine_loop import EngineLoop

    times, inner = array("q"), EngineLoop._packet

    def packet(loop: EngineLoop, one: tuple[int, int, bytes]) -> None:
        inner(loop, one)
        times.append(time.monotonic_ns() - one[0])

    EngineLoop._packet = packet
    atexit.register(lambda: Path(path).write_bytes(times.tobytes()))


if "live.daemon.engine_process" in sys.orig_argv and "UNDERSONG_BENCH_TIMES" in os.environ:
    _measure(os.environ["UNDERSONG_BENCH_TIMES"])
