"""Records one note after another until it is killed. Run: python -m tests.takes.doomed JOURNAL

Prints a line per record: its number, the monotonic time after `put`, and the latest it has woken
up so far (nanoseconds), which tells how late this machine lets a thread run.
"""

import sys
import time

from live.takes.writer import JournalWriter
from tests.takes.streams import on

PAUSE_S = 0.001

writer = JournalWriter(sys.argv[1])
writer.flush()
latest_ns = 0
for number in range(100_000):
    wake_ns = time.monotonic_ns() + round(PAUSE_S * 1e9)
    time.sleep(PAUSE_S)
    latest_ns = max(latest_ns, time.monotonic_ns() - wake_ns)
    writer.put([on(number)])
    print(number, time.monotonic_ns(), latest_ns, flush=True)
