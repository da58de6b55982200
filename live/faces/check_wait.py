"""How late this machine wakes a waiting thread: `python -m live.faces.check_wait SECONDS`.

Waits as the engine does, on an empty queue with a timeout up to the next due moment, and prints
JSON: `{"late_ns": [...]}`. A process of its own, so that nothing else of ours disturbs it.
"""

from __future__ import annotations

import json
import queue
import sys
import time

from live.clock.units import NS_PER_S

_STEP_NS = 7_000_000  # not a multiple of the usual timer ticks of 1, 4 and 10 ms


def wait_lateness_ns(length_ns: int) -> list[int]:
    """Lateness of each wake-up in nanoseconds; due moments come from one anchor, every 7 ms."""
    inbox: queue.SimpleQueue[None] = queue.SimpleQueue()
    anchor_ns = time.monotonic_ns()
    late_ns = []
    for number in range(1, length_ns // _STEP_NS + 1):
        due_ns = anchor_ns + number * _STEP_NS
        left_ns = due_ns - time.monotonic_ns()
        if left_ns <= 0:  # a wake-up so late that the next moment is past already
            late_ns.append(-left_ns)
            continue
        try:
            inbox.get(timeout=left_ns / NS_PER_S)
        except queue.Empty:
            late_ns.append(max(time.monotonic_ns() - due_ns, 0))
    return late_ns


if __name__ == "__main__":
    print(json.dumps({"late_ns": wait_lateness_ns(round(float(sys.argv[1]) * NS_PER_S))}))
