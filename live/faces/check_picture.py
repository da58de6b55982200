"""Draws the histograms on standard input: `python -m live.faces.check_picture PATH`.

Standard input is JSON, `[[NAME, [COUNT, ...]], ...]`, a count for each bin of `check_stats`.
A process of its own, because Qt ends the process it lives in when it cannot start.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

from live.faces.check_stats import EDGES_MS
from live.faces.check_verdict import LIMIT_MS


def main(path: str) -> None:
    """Draw; leaves with one sentence when a library is missing or the file cannot be written."""
    rows = [(name, tuple(counts)) for name, counts in json.load(sys.stdin)]
    labels = [f"{edge:g}" for edge in EDGES_MS]
    limit = EDGES_MS.index(LIMIT_MS)
    try:
        from live.faces.window.histogram import render_histograms

        render_histograms(rows, labels, limit, f"ms; line: {LIMIT_MS:g} ms", Path(path))
    except (ImportError, OSError) as error:
        sys.exit(str(error))


if __name__ == "__main__":
    main(sys.argv[1])
