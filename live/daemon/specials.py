"""What the supervisor does itself when it is told to, and what that leaves for the engine."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from typing import Final

from live.daemon.commands import BY_HAND, Order
from live.daemon.cueing import FORGET, Cueing
from live.daemon.handover import Task
from live.daemon.picture import Picture
from live.daemon.practising import Practising
from live.daemon.reloading import SettingsFile
from live.daemon.staff import Staff
from live.daemon.tapping import Tapping
from live.daemon.teaching import Teaching
from live.notes.events import Learn

_PLAY_IT: Final = "now play the note, pedal, controller or program that is to do it"


class Specials:
    """Carries out special orders (`Order.special`).

    Args:
        picture: holds the settings in force.
        file: the settings file, read again on `reload`.
        staff: the engine among them.
        teaching: forgets.
        practising: drills.
        cueing: the learned cues.
    Thread: the supervisor's main.
    """

    def __init__(
        self,
        picture: Picture,
        file: SettingsFile,
        staff: Staff,
        teaching: Teaching,
        practising: Practising,
        cueing: Cueing,
    ) -> None:
        self._picture, self._file, self._staff = picture, file, staff
        self._teaching, self._practising, self._cueing = teaching, practising, cueing
        self._tapping = Tapping()
        self._doers: dict[str, Callable[[Order], Task | None]] = {
            "reload": self._reload,
            "tap": lambda _: self.tap(time.monotonic_ns()),
            "forget": self._forget,
            "drill": self._drill,
            "learn": self._learn,
        }

    def do(self, order: Order) -> Task | None:
        """Do it, if it is not only a question. Returns: what is left for the engine, if anything.

        Raises: FieldError.
        """
        doer = self._doers.get(order.special)
        return doer(order) if doer else None

    def tap(self, at_ns: int) -> Task:
        """A tap at a time."""
        changes, told = self._tapping.tap(at_ns)
        return Task(Order(changes), self._picture.settings.changed(changes), told)

    def _reload(self, order: Order) -> Task:
        """Read the settings file again; what was set by hand over a section's values may stay."""
        reloaded = self._file.read_again(self._picture.settings)
        self._staff.check(reloaded.settings)
        stays = not {*BY_HAND, "section"}.intersection(reloaded.restated)
        settings = self._cueing.use(reloaded.settings)
        return Task(Order() if stays else order, settings, reloaded.reply())

    def _forget(self, order: Order) -> None:
        self._teaching.forget(order.what)

    def _drill(self, order: Order) -> Task:
        event = self._practising.do(order.what)
        return Task(replace(order, event=event), self._picture.settings)

    def _learn(self, order: Order) -> Task:
        settings = self._picture.settings
        if order.what != FORGET:
            wish = self._cueing.wish(order.what, settings)
            return Task(Order(event=Learn(0, wish)), settings, {"text": _PLAY_IT})
        self._staff.engine.send(("do", 0, Learn(0, None)))
        return Task(Order(), self._cueing.forget(settings))
