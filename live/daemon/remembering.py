"""The memory of practice. Where there is no place for it practice goes on, and it is said why."""

from __future__ import annotations

from collections.abc import Callable

from live.daemon.settings import Settings, data_dir
from live.practice.drill import Drill, start_drill
from live.takes.practised import Practised
from live.theory.errors import FieldError
from live.theory.keys import Key


class Remembering:
    """Begins drills with what is known of a key, and keeps what they show.

    Args:
        settings: say where the data folder is.
        tell: takes a sentence for people.
        by_ear: it is about degrees that are heard, not named.
    Raises: FieldError for a folder that cannot be meant.
    Thread: one owner.
    """

    def __init__(
        self, settings: Settings, tell: Callable[[str], None], *, by_ear: bool = False
    ) -> None:
        self._tell, self._by_ear = tell, by_ear
        self._log: Practised | None = None
        try:
            self._log = Practised(data_dir(settings))
        except OSError as error:
            tell(f"what is practised is not remembered: {error}")

    def drill(self, key: Key) -> Drill:
        """A drill of a key, with what is known of its degrees."""
        return self._log.drill(key, by_ear=self._by_ear) if self._log else start_drill(key)

    def keep(self, drill: Drill) -> None:
        """Write down how a drill stands."""
        if self._log is None:
            return
        try:
            self._log.keep(drill, by_ear=self._by_ear)
        except FieldError as error:
            self._tell(f"what was practised is not remembered: {error}")
