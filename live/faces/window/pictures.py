"""Every state of the window as pictures: `python -m live.faces.window.pictures FOLDER`."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Final

from live.faces.window.layout import COMPACT, FULL
from live.faces.window.picture import render_picture
from live.faces.window.samples import SAMPLES
from live.faces.window.theme import THEMES

SIZES: Final = {"window": FULL[0], "compact": COMPACT[0], "wall": 1920}
"""Widths in logical pixels."""


def write_all(folder: Path, scale: float = 2.0) -> list[Path]:
    """Draw each state in each theme and size; returns the files written."""
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for sample in SAMPLES:
        for theme in THEMES.values():
            for size, width_px in SIZES.items():
                path = folder / f"{sample.name}-{theme.name}-{size}.png"
                render_picture(
                    sample.snapshot, path, theme.name, width_px, scale, moment=sample.moment
                )
                written.append(path)
    return written


def main(argv: list[str]) -> int:
    """Write the pictures into the folder named on the command line."""
    if len(argv) != 1 or argv[0].startswith("-"):
        sys.stderr.write("usage: python -m live.faces.window.pictures FOLDER\n")
        return 2
    try:
        written = write_all(Path(argv[0]))
    except OSError as error:
        sys.stderr.write(f"{error}\n")
        return 1
    sys.stdout.write(f"{len(written)} pictures in {argv[0]}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
