"""Entry point of `python -m live`: the same command as `undersong`."""

from __future__ import annotations

import sys

from live.faces.cli import main

if __name__ == "__main__":
    sys.exit(main())
