"""Every benchmark, one after the other: `make bench`. Exit status 1 if a limit was missed."""

from __future__ import annotations

import importlib
import sys
from pathlib import Path


def main() -> int:
    missed = []
    for path in sorted(Path(__file__).parent.glob("bench_*.py")):
        print(f"== {path.stem}", flush=True)
        if importlib.import_module(f"tests.bench.{path.stem}").main() is False:
            missed.append(path.stem)
    print(f"limits missed: {', '.join(missed) or 'none'}")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
