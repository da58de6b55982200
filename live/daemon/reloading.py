"""The settings file, read again while playing.

What has changed in the file since it was last read is taken over; what the player has changed by
hand meanwhile (`tell key ...`, the window) and the file has not, stays. So the last word wins,
setting by setting; a line taken out of the file means the default again. Settings that are needed
to open ports or devices wait for the next start, and are named; so do zones and routes that name
ports which are not there until then.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from live.daemon.fields import FIELDS
from live.daemon.settings import Settings, load
from live.daemon.wiring import offers_return
from live.theory.errors import FieldError


@dataclass(frozen=True, slots=True)
class Reloaded:
    """What came of reading the file again.

    Args:
        settings: those in force from now on.
        changed: names of the settings and tables that are different now.
        restated: names of those that the file states otherwise than when it was read last.
        waiting: names of the settings that apply at the next start.
    """

    settings: Settings
    changed: tuple[str, ...]
    restated: tuple[str, ...]
    waiting: tuple[str, ...]

    def reply(self) -> dict[str, object]:
        """For faces: lists, and a sentence."""
        parts = [f"changed: {', '.join(self.changed) or 'nothing'}"]
        if self.waiting:
            parts.append(f"applies at the next start: {', '.join(self.waiting)}")
        text = "; ".join(parts)
        return {"text": text, "changed": list(self.changed), "next_start": list(self.waiting)}


class SettingsFile:
    """The file as it was at the start and as it was read last.

    Args:
        path: None = the user's own.
    Raises: FieldError if it cannot be used.
    Thread: the supervisor's main.
    """

    def __init__(self, path: Path | None) -> None:
        self._path = path
        self._at_start = self._read = load(path)
        self._held: frozenset[str] = frozenset()  # tables that wait for their ports

    def read_again(self, current: Settings) -> Reloaded:
        """Take over what has changed in it; FieldError, and nothing has changed, if it is wrong.

        Args:
            current: the settings in force.
        """
        before, now = self._read, load(self._path)
        live = [
            field.name
            for field in FIELDS
            if field.is_live and now[field.name] != before[field.name]
        ]
        tables = [
            name
            for name in now.tables
            if now.tables[name] != before.tables[name] or name in self._held
        ]
        values = {name: now[name] for name in live}
        held = self._to_hold(now, current, values, tables)
        tables = [name for name in tables if name not in held]
        settings = current.replaced(values, {name: now.tables[name] for name in tables})
        self._read, self._held = now, held
        changed = [name for name in live if settings[name] != current[name]]
        changed += [name for name in tables if settings.tables[name] != current.tables[name]]
        waiting = [
            field.name
            for field in FIELDS
            if not field.is_live and now[field.name] != self._at_start[field.name]
        ]
        waiting += sorted(held)
        return Reloaded(settings, tuple(changed), (*live, *tables), tuple(waiting))

    def _to_hold(
        self, now: Settings, current: Settings, values: dict[str, Any], tables: list[str]
    ) -> frozenset[str]:
        """Tables that can only be used with the ports of the next start: the file is right."""
        of_ports = frozenset(tables) & {"zone", "route"}
        if offers_return(now.routes) != offers_return(self._at_start.routes):
            return of_ports
        try:
            current.replaced(values, {name: now.tables[name] for name in tables})
        except FieldError:
            if not of_ports:
                raise
            return of_ports
        return frozenset()
