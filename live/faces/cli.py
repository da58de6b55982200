"""The `undersong` command: picks the subcommand, turns errors into one line and an exit code."""

from __future__ import annotations

import argparse
import importlib
import os
import sys
from collections.abc import Sequence
from typing import Final

from live.faces.output import Failed, complain
from live.faces.parser import read_words
from live.theory.errors import FieldError

TRACE_NAME: Final = "UNDERSONG_TRACE"
"""When this environment variable is set, a fault of ours ends with its traceback."""

_OK: Final = 0
_FAILED: Final = 1
_BAD_INPUT: Final = 2
_INTERRUPTED: Final = 130  # 128 + SIGINT, as shells report it


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command.

    Args:
        argv: words after the program's name; None = the process's own.
    Returns: 0 done, 1 the run failed, 2 bad input, 130 interrupted.
    Thread: main.
    """
    try:
        args = read_words(argv)
    except SystemExit as stop:
        return stop.code if isinstance(stop.code, int) else _OK
    try:
        code = _dispatch(args)
        if sys.stdout is not None:
            sys.stdout.flush()
    except BrokenPipeError:
        _drop_output()
        return _FAILED
    except FieldError as error:
        complain(str(error))
        return _BAD_INPUT
    except (Failed, OSError) as error:
        complain(_reason(error))
        _drop_output_if_full()
        return _FAILED
    except KeyboardInterrupt:
        return _INTERRUPTED
    except Exception as error:
        if TRACE_NAME in os.environ:
            raise
        complain(f"a fault in Undersong itself: {error!r} (for more, set {TRACE_NAME}=1)")
        return _FAILED
    return code


def _dispatch(args: argparse.Namespace) -> int:
    module, _, function = args.run.partition(":")
    code: int = getattr(importlib.import_module(module), function)(args)
    return code


def _reason(error: Exception) -> str:
    if isinstance(error, OSError) and error.strerror:
        return f"{error.filename}: {error.strerror}" if error.filename else error.strerror
    return str(error)


def _drop_output_if_full() -> None:
    try:
        if sys.stdout is not None:
            sys.stdout.flush()
    except OSError:
        _drop_output()


def _drop_output() -> None:
    # The interpreter flushes at exit; without a reader that would print an error of its own.
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
