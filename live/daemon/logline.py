"""Lines on standard error: for a terminal, a service's log, or nobody."""

from __future__ import annotations

import os
import sys


def log_line(text: str) -> None:
    """Print a line on standard error; what becomes of it ends nothing.

    Whoever read there may have gone, and a log's disk may be full, in the middle of a performance.
    Thread: any.
    """
    if sys.stderr is None:  # a service without one
        return
    try:
        print(text, file=sys.stderr, flush=True)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stderr.fileno())
    except (OSError, ValueError):
        pass  # full for now, or closed


def fill_standard_streams() -> None:
    """Put the null device where a standard stream is closed.

    Otherwise the next file or pipe that is opened takes its number, and a child that means its
    standard error writes into that.
    """
    for number in range(3):
        try:
            os.fstat(number)
        except OSError:
            os.set_inheritable(os.open(os.devnull, os.O_RDWR), True)
