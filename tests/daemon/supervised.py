"""What stands between faces and the engine, with the engine, the link and the journal as lists."""

from __future__ import annotations

from typing import Any, cast

from live.daemon.cueing import Cueing
from live.daemon.handover import Handover
from live.daemon.orders import Orders
from live.daemon.picture import Picture
from live.daemon.players import Players
from live.daemon.settings import Settings, defaults, engine_config
from live.daemon.specials import Specials
from live.daemon.telling import Telling
from live.notes.config import EngineConfig
from live.notes.record import Record

FACE = 7


class Supervised:
    """Orders with all that they need; the engine is there until `engine_is_there` is False."""

    watchers = 0

    def __init__(self) -> None:
        self.engine_is_there = True
        self.sent: list[tuple[Any, ...]] = []
        self.replies: list[dict[str, object]] = []
        self.told: list[Record] = []
        self.used: list[Settings] = []
        self.has_quit = False
        nobody: Any = None
        one = cast("Any", self)
        self.picture = Picture(defaults())
        cueing = Cueing(defaults())
        telling = Telling(self.picture, one, one)
        self.handover = Handover(one, telling, self.picture, self.use)
        specials = Specials(self.picture, nobody, nobody, nobody, one, cueing)
        self.players = Players()
        self.orders = Orders(
            self.picture, telling, self.handover, specials, cueing, self.players, self.quit
        )

    @property
    def changes(self) -> list[Any]:
        """What the engine was told to do."""
        return [event for _, _, event in self.sent]

    def do(self, wish: str) -> None:
        """A drill that may be started."""
        assert wish == "start"

    def send(self, frame: tuple[Any, ...]) -> bool:
        """The engine's pipe."""
        self.sent += [frame] * self.engine_is_there
        return self.engine_is_there

    def reply(self, face: int, answer: dict[str, object]) -> None:
        """The link."""
        assert face == FACE
        self.replies.append(answer)

    def put(self, records: list[Record]) -> None:
        """The journal."""
        self.told += records

    def use(self, settings: Settings) -> EngineConfig:
        """All that takes settings."""
        self.picture.use(settings)
        self.used.append(settings)
        return engine_config(settings)

    def quit(self) -> None:
        """The end."""
        self.has_quit = True
