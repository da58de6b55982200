"""What practice has shown of each key, as a file in the data folder.

One JSON object: for each key, by name, how often each degree of its scale was played right, close
and wrong at the first try; and apart from it, under the name with ` (by ear)` after it, how often
what was heard was found. A damaged file is put aside: practice begins anew.
"""

from __future__ import annotations

import contextlib
import json
from pathlib import Path
from typing import Final

from live.ports.atomic import damaged_name, write_whole
from live.practice.drill import Drill, Tally, start_drill
from live.theory.keys import Key

_NAME: Final = "practised.json"
_MOST_BYTES: Final = 4_000_000
_BY_EAR: Final = " (by ear)"
"""No scale has brackets of this kind in its name."""
_KEPT: Final = 0.5
"""What was known last time counts half (own choice), so that old slips fade."""


class Practised:
    """Remembers drills from one practice to the next.

    Args:
        folder: the data folder.
    Thread: one owner.
    """

    def __init__(self, folder: Path | str) -> None:
        self.path = Path(folder) / _NAME
        self._keys = _read(self.path)

    def drill(self, key: Key, *, by_ear: bool = False) -> Drill:
        """A drill of a key that begins with what is known of its degrees, by name or by ear."""
        fresh = start_drill(key)
        rows = self._keys.get(_entry(key, by_ear=by_ear), [])
        if len(rows) != len(fresh.tallies):
            return fresh
        return Drill(key, tuple(Tally(*(int(n * _KEPT) for n in row)) for row in rows))

    def keep(self, drill: Drill, *, by_ear: bool = False) -> None:
        """Remember a drill as it stands. Raises: FieldError if it cannot be written.

        What another practice has written of other keys meanwhile stays.
        """
        self._keys = {**self._keys, **_read(self.path)}
        rows = [[t.right, t.close, t.wrong] for t in drill.tallies]
        self._keys[_entry(drill.key, by_ear=by_ear)] = rows
        text = json.dumps(self._keys, ensure_ascii=False, separators=(",", ":"))
        write_whole(self.path, text.encode("utf-8"))


def _entry(key: Key, *, by_ear: bool) -> str:
    return key.name + _BY_EAR if by_ear else key.name


def _read(path: Path) -> dict[str, list[list[int]]]:
    try:
        if path.stat().st_size > _MOST_BYTES:
            return {}
        data = json.loads(path.read_bytes())
    except OSError:
        return {}
    except (ValueError, RecursionError):
        data = None
    if not isinstance(data, dict):
        with contextlib.suppress(OSError):
            path.replace(damaged_name(path))
        return {}
    return {name: rows for name, rows in data.items() if _is_tallies(rows)}


def _is_tallies(rows: object) -> bool:
    return isinstance(rows, list) and all(
        isinstance(row, list) and len(row) == 3 and all(type(n) is int and n >= 0 for n in row)
        for row in rows
    )
