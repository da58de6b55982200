"""Every benchmark, one after the other: `make bench`. Exit status 1 if a limit was missed.

Run: python -m tests.bench [NAME ...] [--slow]   (`key`: only bench_key; --slow: its slow part too)
"""

from __future__ import annotations

import importlib
import sys
from pathlib import Path


def main() -> int:
    wanted = {f"bench_{word}" for word in sys.argv[1:] if not word.startswith("--")}
    missed = []
    for path in sorted(Path(__file__).parent.glob("bench_*.py")):
        if wanted and path.stem not in wanted:
            continue
        print(f"== {path.stem}", flush=True)
        if importlib.import_module(f"tests.bench.{path.stem}").main() is False:
            missed.append(path.stem)
    print(f"limits missed: {', '.join(missed) or 'none'}")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
