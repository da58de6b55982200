"""The lights of a controller, drawn by the engine's loop when nothing else waits.

They belong to the loop and not to the engine's step: a step pays for every note, while the loop
looks at the engine 30 times a second at most anyway, after what is due and while no note waits. So
the note path pays nothing, a change is seen at most one look later, and lights are no records: they
are neither journalled nor counted among what sounds.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from live.clock.units import NS_PER_S
from live.notes.engine import Engine
from live.notes.events import ANSWER, DICTATION_SOURCE, LIGHTS, THROUGH
from live.notes.lights import LightBoard, light_values
from live.ports.api import Outlet

AT_ONCE: Final = 8
"""Lights sent before the loop looks whether a note has come: under 0.1 ms (tests.bench)."""

READY_NS: Final = NS_PER_S // 5
"""A port that was just opened is not drawn on at once: JACK joins it with its next period only and
what is sent before is lost, and a controller needs its time to wake (own choice)."""


class Lamps:
    """What the controller on `lights` shows.

    Args:
        engine: looked at, and told what was sent, to know it should it come back.
        outlets: open outputs by role; without `lights` among them nothing is done.
    Thread: the engine's.
    """

    def __init__(self, engine: Engine, outlets: Mapping[str, Outlet]) -> None:
        self._engine = engine
        self._outlets = outlets
        self._board = LightBoard()
        self._seen: tuple[Any, ...] = ()
        self._drawings = 0
        self._ready_ns = 0

    @property
    def waits(self) -> bool:
        """True while there are lights to send, and a port to send them on."""
        return self._board.is_waiting and LIGHTS in self._outlets

    def look(self, now_ns: int) -> bool:
        """See what the lights are to show now. Returns: True if it is too early, look again."""
        if LIGHTS not in self._outlets:
            return False
        if now_ns < self._ready_ns:
            return True
        engine, config = self._engine, self._engine.config
        chord = engine.chord_now(now_ns) if config.lights.chord else None
        sounding: frozenset[int] = frozenset()
        if config.lights.sounding:
            ledger = engine.ledger
            sounding = frozenset(
                (
                    *ledger.sounding(THROUGH),
                    *ledger.sounding_for_others(ANSWER, DICTATION_SOURCE),  # it is to be found
                )
            )
        if engine.light_echo.drawings != self._drawings:
            self._drawings = engine.light_echo.drawings
            self._forget()
        seen = (config.lights, config.key, config.snap, chord, sounding)
        if seen != self._seen:
            self._seen = seen
            self._board.aim(config.lights.channel, light_values(*seen))
        return False

    def send(self, now_ns: int) -> None:
        """Send some of what waits."""
        self._send(self._board.take(AT_ONCE), now_ns)

    def port_changed(self, now_ns: int) -> None:
        """The port has gone or come."""
        self._ready_ns = now_ns + READY_NS
        self._forget()

    def put_out(self, now_ns: int) -> None:
        """Every light goes dark, at once."""
        self._board.darken()
        while self.waits:
            self.send(now_ns)

    def _forget(self) -> None:
        """What the controller shows is not known: all is drawn."""
        self._board = LightBoard()
        self._seen = ()

    def _send(self, messages: list[bytes], now_ns: int) -> None:
        outlet = self._outlets[LIGHTS]
        for data in messages:
            outlet.send(data)
        self._engine.light_echo.sent(now_ns, messages)
