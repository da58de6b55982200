"""What faces and cues ask for: read, handed to the engine, and answered when it is done."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from typing import Any

from live.daemon.backing import Backing
from live.daemon.commands import BY_HAND, Order, read_command
from live.daemon.cueing import FORGET, Cueing
from live.daemon.link_server import LinkServer
from live.daemon.picture import Picture
from live.daemon.practising import Practising
from live.daemon.reloading import SettingsFile
from live.daemon.settings import Settings
from live.daemon.staff import Staff
from live.daemon.tapping import Tapping
from live.daemon.teaching import Teaching
from live.notes.config import EngineConfig
from live.notes.events import Change, Learn, MidiIn
from live.notes.record import Record
from live.theory.errors import FieldError

_PLAY_IT = "now play the note, pedal, controller or program that is to do it"
_BUSY = "the engine is being started again"


class Orders:
    """Carries out commands.

    Args:
        file: the settings file, read again on `reload`.
        picture: holds the settings in force.
        server: replies to faces.
        staff: the engine among them.
        backing: hears of new settings.
        teaching: hears of new settings, and forgets.
        practising: hears of new settings, and drills.
        cueing: the learned cues.
        config_now: makes the engine's settings.
        tell: takes a sentence for people.
        publish: shows faces what has changed.
        quit_now: ends the daemon.
    Thread: the supervisor's main.
    """

    def __init__(
        self,
        file: SettingsFile,
        picture: Picture,
        server: LinkServer,
        staff: Staff,
        backing: Backing,
        teaching: Teaching,
        practising: Practising,
        cueing: Cueing,
        config_now: Callable[[], EngineConfig],
        tell: Callable[[str], None],
        publish: Callable[[], None],
        quit_now: Callable[[], None],
    ) -> None:
        self._file, self._picture = file, picture
        self._server, self._staff = server, staff
        self._backing, self._teaching, self._cueing = backing, teaching, cueing
        self._practising, self._config_now = practising, config_now
        self._tell, self._publish, self._quit_now = tell, publish, quit_now
        self._tapping = Tapping()
        self._waiting: dict[int, tuple[int, dict[str, object]]] = {}
        self._ident = 0

    def ask(self, face: int, command: str, args: list[str]) -> None:
        """A face gives a command. A fault of ours in it is told, and everything goes on."""
        try:
            self._ask(face, command, args)
        except Exception as error:  # noqa: BLE001 - no word of a face may end what plays
            fault = f"a fault in Undersong itself, in '{command}': {error!r}"
            self._server.reply(face, {"ok": False, "error": fault})
            self._tell(fault)

    def _ask(self, face: int, command: str, args: list[str]) -> None:
        try:
            own = self._picture.settings.scales
            order = read_command(command, args, own, self._picture.heard)
            told: dict[str, object] | None = None
            if order.special == "reload":
                order, settings, told = self._reload(order)
            else:
                settings = self._picture.settings.changed(order.changes)
            if order.special == "forget":
                self._teaching.forget(order.what)
            elif order.special == "drill":
                self._practising.do(order.what)
            elif order.special == "learn":
                order, settings = self._learn(order.what)
        except FieldError as error:
            self._server.reply(face, {"ok": False, "error": str(error), "bad_input": True})
            return
        if order.special == "status":
            self._server.reply(face, {"ok": True, **self._picture.status()})
        elif order.special == "forget":
            self._server.reply(face, {"ok": True})
            self._publish()
        elif order.special == "quit":
            self._server.reply(face, {"ok": True})
            self._quit_now()
        elif order.special == "tap":
            order, settings, told = self._tap(time.monotonic_ns())
            self._carry_out(order, settings, face, told)
        else:
            told = {"text": _PLAY_IT} if isinstance(order.event, Learn) else told
            self._carry_out(order, settings, face, told)
        self.tell_notice()

    def follow(self, record: Record) -> None:
        """The engine says that a cue came in, or was learned: see to what it cannot do."""
        detail = json.loads(record.detail)
        if record.kind == "learned":
            self._keep_cue(detail)
        elif not detail["done"]:
            self._cueing.number = detail["number"]
            self._carry_out(*self._asked_by_cue(detail["command"], record.at_ns))

    def done(self, ident: int, error: str = "") -> None:
        """The engine has done what was asked, or has refused it."""
        face, told = self._waiting.pop(ident, (None, {}))
        if face is not None:
            refusal: dict[str, object] = {"ok": False, "error": error, "bad_input": True}
            self._server.reply(face, refusal if error else {"ok": True, **told})

    def engine_ended(self) -> None:
        """Nobody will do what was asked; the next one counts its cues anew."""
        self._cueing.number = 0
        for ident in list(self._waiting):
            self.done(ident, _BUSY)

    def tell_notice(self) -> None:
        """Tell people what of the learned cues cannot be used, if that is new."""
        notice, self._cueing.notice = self._cueing.notice, ""
        if notice:
            self._tell(notice)

    def _reload(self, order: Order) -> tuple[Order, Settings, dict[str, object]]:
        """Read the settings file again; what was set by hand over a section's values may stay."""
        reloaded = self._file.read_again(self._picture.settings)
        self._staff.check(reloaded.settings)
        stays = not {*BY_HAND, "section"}.intersection(reloaded.restated)
        return Order() if stays else order, self._cueing.use(reloaded.settings), reloaded.reply()

    def _tap(self, at_ns: int) -> tuple[Order, Settings, dict[str, object]]:
        changes, told = self._tapping.tap(at_ns)
        return Order(changes), self._picture.settings.changed(changes), told

    def _asked_by_cue(self, command: str, at_ns: int) -> tuple[Order, Settings]:
        """What a cue's command means now; nothing if it means nothing any more, which is told."""
        try:
            if command == "tap":
                return self._tap(at_ns)[:2]
            own, words = self._picture.settings.scales, command.split()
            order = read_command(words[0], words[1:], own, self._picture.heard)
            return order, self._picture.settings.changed(order.changes)
        except FieldError as error:
            self._tell(str(error))
            return Order(), self._picture.settings

    def _learn(self, what: str) -> tuple[Order, Settings]:
        settings = self._picture.settings
        if what != FORGET:
            return Order(event=Learn(0, self._cueing.wish(what, settings))), settings
        self._staff.engine.send(("do", 0, Learn(0, None)))
        return Order(), self._cueing.forget(settings)

    def _keep_cue(self, detail: dict[str, Any]) -> None:
        settings = self._picture.settings
        try:
            settings = self._cueing.learn(detail, settings)
        except FieldError as error:
            self._tell(str(error))
            settings = self._cueing.use(settings)  # it holds until the end at least
        self._carry_out(Order(), settings)
        self._tell(f"{detail['on']} on channel {detail['channel']} does: {detail['does']}")

    def _carry_out(
        self,
        order: Order,
        settings: Settings,
        face: int | None = None,
        told: dict[str, object] | None = None,
    ) -> None:
        """Let the engine do it; the face hears when it is done, and what else is `told`."""
        event = order.event
        if event is None:
            self._picture.use(settings)
            self._backing.level(settings)
            self._teaching.use(settings)
            self._practising.use(settings)
            names = frozenset(BY_HAND[name] for name in order.changes if name in BY_HAND)
            by_hand = None if order.special == "reload" else names
            event = Change(0, self._config_now(), by_hand, self._cueing.number)
        self._picture.notice = ""
        self._ident += 1
        if face is not None:
            self._waiting[self._ident] = (face, told or {})
        if not self._staff.engine.send(("do", self._ident, event)):
            self.done(self._ident, _BUSY)
        if not isinstance(event, MidiIn):
            self._publish()
