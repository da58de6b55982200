"""Words and JSON on standard output, complaints on standard error."""

from __future__ import annotations

import json
import shutil
import sys
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import TextIO

_PLAIN = str.maketrans({"♭": "b", "♯": "#", "𝄫": "bb", "𝄪": "##", "·": "-", "█": "#", "─": "-"})


class Failed(Exception):  # noqa: N818 - it reads as what happened: the run failed
    """A run that failed; the text is one sentence for people. The command ends with 1."""


@contextmanager
def failing_on(*kinds: type[Exception]) -> Iterator[None]:
    """Turn errors whose text is one sentence for people into `Failed`."""
    try:
        yield
    except kinds as error:
        raise Failed(str(error)) from error


def emit_json(value: dict[str, object]) -> None:
    """Print one JSON object, ASCII only, on standard output."""
    print(json.dumps(value, indent=2))


def say(text: str = "") -> None:
    """Print a line for people on standard output."""
    _print(text, sys.stdout)


def aside(text: str = "") -> None:
    """Print a line for people on standard error, for commands whose output is JSON."""
    _print(text, sys.stderr)


def complain(text: str) -> None:
    """Print one line on standard error, with our name before it."""
    _print(f"undersong: {' '.join(text.split())}", sys.stderr)


def _print(text: str, stream: TextIO) -> None:
    encoding = getattr(stream, "encoding", None) or "ascii"
    try:
        text.encode(encoding)
    except UnicodeEncodeError:
        text = text.translate(_PLAIN).encode(encoding, "replace").decode(encoding)
    print(text, file=stream)


def columns(rows: Iterable[Sequence[str]], right: Sequence[int] = (), indent: int = 0) -> list[str]:
    """Lines with aligned columns, two spaces apart.

    Args:
        rows: cells as text; rows may be shorter than the longest.
        right: columns (from 0) that align to the right.
        indent: spaces before each line.
    """
    cells = [tuple(row) for row in rows]
    count = max((len(row) for row in cells), default=0)
    widths = [max((len(row[i]) for row in cells if i < len(row)), default=0) for i in range(count)]
    lines = []
    for row in cells:
        padded = (
            cell.rjust(widths[i]) if i in right else cell.ljust(widths[i])
            for i, cell in enumerate(row)
        )
        lines.append((" " * indent + "  ".join(padded)).rstrip())
    return lines


def say_columns(rows: Iterable[Sequence[str]], right: Sequence[int] = (), indent: int = 0) -> None:
    """Print rows with aligned columns."""
    for line in columns(rows, right, indent):
        say(line)


def columns_wide() -> int:
    """Characters in a line of the terminal; 80 where there is none."""
    return shutil.get_terminal_size().columns


def plural(count: int, noun: str) -> str:
    """`1 note`, `2 notes`."""
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"
