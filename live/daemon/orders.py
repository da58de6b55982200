"""What faces and cues ask for: read, done or handed to the engine, and answered."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from live.daemon.commands import Order, read_command, under_its_name
from live.daemon.cueing import Cueing
from live.daemon.handover import Handover, Task
from live.daemon.picture import Picture
from live.daemon.players import Players
from live.daemon.specials import Specials
from live.daemon.telling import Telling
from live.notes.record import Record
from live.theory.errors import FieldError


class Orders:
    """Carries out commands.

    Args:
        picture: holds the settings in force.
        telling: replies to faces.
        handover: to the engine.
        specials: what the supervisor does itself.
        cueing: the learned cues.
        players: which faces have keys of their own.
        quit_now: ends the daemon.
    Thread: the supervisor's main.
    """

    def __init__(
        self,
        picture: Picture,
        telling: Telling,
        handover: Handover,
        specials: Specials,
        cueing: Cueing,
        players: Players,
        quit_now: Callable[[], None],
    ) -> None:
        self._picture, self._telling, self._handover = picture, telling, handover
        self._specials, self._cueing, self._players = specials, cueing, players
        self._quit_now = quit_now

    def ask(self, face: int, command: str, args: list[str]) -> None:
        """A face gives a command. A fault of ours in it is told, and everything goes on."""
        try:
            self._ask(face, command, args)
        except Exception as error:  # noqa: BLE001 - no word of a face may end what plays
            self._telling.fail(face, f"a fault in Undersong itself, in '{command}': {error!r}")

    def _ask(self, face: int, command: str, args: list[str]) -> None:
        try:
            order = self._players.own(face, self._read(command, args))
            task = self._specials.do(order) if order.special else self._set(order)
        except FieldError as error:
            self._telling.refuse(face, str(under_its_name(command, error)))
            return
        if task is not None:
            self._handover.give(task, face)
        else:
            told = self._picture.status() if order.special == "status" else {}
            self._telling.reply(face, **told)
        if order.special == "forget":
            self._telling.publish()
        elif order.special == "quit":
            self._quit_now()
        self.tell_notice()

    def follow(self, record: Record) -> None:
        """The engine says that a cue came in, or was learned: see to what it cannot do."""
        detail = json.loads(record.detail)
        if record.kind == "learned":
            self._keep_cue(detail)
        elif not detail["done"]:
            self._handover.cue = detail["number"]
            self._handover.give(self._asked_by_cue(detail["command"], record.at_ns))

    def tell_notice(self) -> None:
        """Tell people what of the learned cues cannot be used, if that is new."""
        notice, self._cueing.notice = self._cueing.notice, ""
        if notice:
            self._telling.tell(notice)

    def _read(self, command: str, args: list[str]) -> Order:
        settings = self._picture.settings
        order = read_command(command, args, settings.scales, self._picture.heard)
        if command == "lights" and not settings["lights.on"]:
            raise FieldError(command, "while lights.on is true", "off")
        return order

    def _set(self, order: Order) -> Task:
        return Task(order, self._picture.settings.changed(order.changes))

    def _asked_by_cue(self, command: str, at_ns: int) -> Task:
        """What a cue's command means now; nothing if it means nothing any more, which is told."""
        try:
            if command == "tap":
                return self._specials.tap(at_ns)
            name, *args = command.split()
            return self._set(self._read(name, args))
        except FieldError as error:
            self._telling.tell(str(error))
            return Task(Order(), self._picture.settings)

    def _keep_cue(self, detail: dict[str, Any]) -> None:
        settings = self._picture.settings
        try:
            settings = self._cueing.learn(detail, settings)
        except FieldError as error:
            self._telling.tell(str(error))
            settings = self._cueing.use(settings)  # it holds until the end at least
        self._handover.give(Task(Order(), settings))
        told = f"{detail['on']} on channel {detail['channel']} does: {detail['does']}"
        self._telling.tell(told)
