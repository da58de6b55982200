"""How long a message takes through the splitter, against copying its bytes.

Run: python -m tests.bench.bench_split
"""

from __future__ import annotations

import statistics
import timeit

from live.notes.split import Cleaner, is_whole

ROUNDS = 7
CALLS = 100_000
NOTE = b"\x90\x3c\x40"
LIMIT_US = 1.0
"""A note must cost less than this on the way in, or the note path feels it."""


def us_per_call(call) -> float:
    """Median time of a call in microseconds."""
    runs = [timeit.timeit(call, number=CALLS) for _ in range(ROUNDS)]
    return statistics.median(runs) / CALLS * 1e6


def main() -> bool:
    """Print the figures; False if a note costs more than the limit."""
    cleaner = Cleaner()
    copied_us = us_per_call(lambda: bytes(bytearray(NOTE)))
    rows = {
        "a whole note": us_per_call(lambda: cleaner.feed(NOTE)),
        "a clock": us_per_call(lambda: cleaner.feed(b"\xf8")),
        "two notes packed": us_per_call(lambda: cleaner.feed(NOTE + NOTE)),
        "a check before sending": us_per_call(lambda: is_whole(NOTE)),
    }
    print(f"copying the bytes of a note: {copied_us:.2f} us")
    for name, took_us in rows.items():
        print(f"{name}: {took_us:.2f} us, {took_us / copied_us:.1f} times the copy")
    return rows["a whole note"] < LIMIT_US


if __name__ == "__main__":
    main()
