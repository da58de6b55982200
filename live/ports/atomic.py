"""Files that are either whole or not there."""

from __future__ import annotations

import os
import secrets
from pathlib import Path

from live.theory.errors import FieldError


def write_whole(path: str | Path, data: bytes) -> None:
    """Write a file beside its place, then move it there; what stood there is replaced.

    Raises: FieldError("file", ...) if the folder does not exist or cannot be written.
    Thread: any.
    """
    target = Path(path)
    if not target.parent.is_dir():
        raise FieldError("file", "a place in a folder that exists", str(target))
    if target.is_dir():
        raise FieldError("file", "a file, not a folder", str(target))
    part = target.with_name(f".{secrets.token_hex(8)}.part")
    try:
        with part.open("xb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        part.replace(target)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise FieldError("file", "a place that can be written", f"{target}: {error}") from error


def damaged_name(path: Path) -> Path:
    """A free name beside a file that cannot be read, `NAME-damaged-1.json`, to move it to."""
    count = 1
    while (aside := path.with_name(f"{path.stem}-damaged-{count}{path.suffix}")).exists():
        count += 1
    return aside
