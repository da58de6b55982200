"""Hands what was asked for to the engine; whoever asked hears of it when it is done."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Final

from live.daemon.commands import BY_HAND, Order
from live.daemon.picture import Picture
from live.daemon.settings import Settings
from live.daemon.staff import Worker
from live.daemon.telling import Telling
from live.notes.config import EngineConfig
from live.notes.events import Change, MidiIn

_BUSY: Final = "the engine is being started again; ask once more"
_BEGINS: Final = "the engine is being started again, and begins with this"


@dataclass(frozen=True, slots=True)
class Task:
    """What is left for the engine.

    Args:
        order: without an event, the settings are to take effect.
        settings: from now on.
        told: for the face, beside that it is done.
    """

    order: Order
    settings: Settings
    told: Mapping[str, object] = field(default_factory=dict)


class Handover:
    """Hands tasks over.

    Args:
        engine: does them.
        telling: replies to faces.
        picture: loses its notice.
        use: has the supervisor's parts take settings. Returns: the engine's.
    Thread: the supervisor's main.
    """

    def __init__(
        self,
        engine: Worker,
        telling: Telling,
        picture: Picture,
        use: Callable[[Settings], EngineConfig],
    ) -> None:
        self._engine, self._telling, self._picture, self._use = engine, telling, picture, use
        self.cue = 0
        """Number of the last cue that the engine told us to see to."""
        self._waiting: dict[int, tuple[int, Task]] = {}
        self._ident = 0

    def give(self, task: Task, face: int | None = None) -> None:
        """Let the engine do it; the face, if one asked, hears when it is done."""
        order, event = task.order, task.order.event
        if event is None:
            names = frozenset(BY_HAND[name] for name in order.changes if name in BY_HAND)
            by_hand = None if order.special == "reload" else names
            event = Change(0, self._use(task.settings), by_hand, self.cue)
        self._picture.notice = ""
        self._ident += 1
        if face is not None:
            self._waiting[self._ident] = (face, task)
        if not self._engine.send(("do", self._ident, event)):
            self._unheard(self._ident)
        if not isinstance(event, MidiIn):
            self._telling.publish()

    def done(self, ident: int, error: str = "") -> None:
        """The engine has done what was asked, or has refused it."""
        if ident not in self._waiting:
            return
        face, task = self._waiting.pop(ident)
        if error:
            self._telling.refuse(face, error)
        else:
            self._telling.reply(face, **task.told)

    def engine_ended(self) -> None:
        """Nobody will do what was asked; the next engine counts its cues anew."""
        self.cue = 0
        for ident in list(self._waiting):
            self._unheard(ident)

    def _unheard(self, ident: int) -> None:
        """There is no engine: the next one begins with settings, but knows of nothing else."""
        if ident not in self._waiting:
            return
        face, task = self._waiting.pop(ident)
        if task.order.event is None:
            self._telling.reply(face, **{"text": _BEGINS, **task.told})
        else:
            self._telling.put_off(face, _BUSY)
