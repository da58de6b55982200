"""Cues that were learned by playing them: kept in the data folder, across restarts."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, Final

from live.daemon.cue_table import read_cue, read_wish
from live.daemon.settings import Settings, data_dir
from live.notes.cues import Cue, Wish
from live.ports.atomic import damaged_name, write_whole
from live.theory.errors import FieldError

FILE: Final = "cues.json"
FORGET: Final = "forget"
_VERSION: Final = 1
_MOST_BYTES: Final = 1_000_000


class Cueing:
    """The learned cues, the newest first.

    The file: `{"version": 1, "cues": [{"on": "note C0", "channel": 1, "does": "key F major"}]}`.

    Args:
        settings: name the folder, the scales and the song plan.
    Thread: the supervisor's main.
    """

    def __init__(self, settings: Settings) -> None:
        self.notice = ""
        """Why something that was learned is not used, "" = nothing."""
        self._tables: list[dict[str, Any]] = []
        self._path: Path | None = None
        self._open(settings)

    def wish(self, text: str, settings: Settings) -> Wish:
        """What is to be learned, from its words. Raises: FieldError."""
        return read_wish(text, settings.scales, settings.sections, "learn")

    def learn(self, detail: dict[str, Any], settings: Settings) -> Settings:
        """A message has become a cue. Returns: settings with it.

        Args:
            detail: of the record `learned`.
            settings: in force.
        Raises: FieldError if it cannot be written.
        """
        table = {name: detail[name] for name in ("on", "channel", "does")}
        same = (table["on"], table["channel"])
        others = [one for one in self._tables if (one.get("on"), one.get("channel")) != same]
        self._tables = [table, *others]
        self._write()
        return self.use(settings)

    def forget(self, settings: Settings) -> Settings:
        """Forget every learned cue. Returns: settings without them. Raises: as `learn`."""
        self._tables = []
        self._write()
        return self.use(settings)

    def use(self, settings: Settings) -> Settings:
        """The settings with the learned cues; what cannot be used now is told in `notice`."""
        cues: list[Cue] = []
        for table in self._tables:
            try:
                cues.append(read_cue(table, settings.scales, settings.sections))
            except FieldError as error:
                self.notice = f"a learned cue is not used: {error}"
        return settings.with_learned(tuple(cues))

    def _open(self, settings: Settings) -> None:
        try:
            self._path = data_dir(settings) / FILE
            if self._path.stat().st_size > _MOST_BYTES:
                raise ValueError("it is far too large")
            data = json.loads(self._path.read_bytes())
            tables = data["cues"] if data.get("version") == _VERSION else None
            if not isinstance(tables, list) or not all(isinstance(t, dict) for t in tables):
                raise ValueError(f"it is no list of cues of version {_VERSION}")
            self._tables = tables
        except FileNotFoundError:
            pass
        except OSError as error:
            self.notice = f"no learned cues: {error}"
        except (ValueError, AttributeError, KeyError, TypeError, RecursionError) as error:
            self._set_aside(error)

    def _set_aside(self, error: Exception) -> None:
        """Give a file that cannot be read another name."""
        if self._path is None:
            return
        aside = damaged_name(self._path)
        try:
            self._path.replace(aside)
        except OSError as failure:
            self.notice = f"no learned cues: {failure}"
        else:
            self.notice = f"the learned cues cannot be read ({error}); the file is now {aside.name}"

    def _write(self) -> None:
        if self._path is None:
            raise FieldError("learn", "while the data folder can be used", "no folder")
        text = json.dumps({"version": _VERSION, "cues": self._tables}, indent=1)
        write_whole(self._path, text.encode())
