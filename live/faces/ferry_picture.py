"""Draws the snapshot on standard input: `python -m live.faces.ferry_picture PATH WIDTH`.

A process of its own, because Qt ends the process it lives in when it cannot start.
"""

from __future__ import annotations

import sys
from pathlib import Path

from live.daemon.snapshot import snapshot_from_json


def main(path: str, width_px: str) -> None:
    """Draw; leaves with one sentence when a library is missing or the file cannot be written."""
    snapshot = snapshot_from_json(sys.stdin.read())
    try:
        from live.faces.window.picture import render_picture

        render_picture(snapshot, Path(path), "dark", int(width_px))
    except (ImportError, OSError) as error:
        sys.exit(str(error))


if __name__ == "__main__":
    main(*sys.argv[1:3])
