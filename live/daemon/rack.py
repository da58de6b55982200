"""The rack: every MIDI port the engine has open, and those it still waits for."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from live.clock.units import NS_PER_S
from live.daemon.labels import AUTO, first_found
from live.daemon.port_plan import (
    PortPlan,
    Wanted,
    hardware_keyboards,
    wanted_outputs,
    wanted_ports,
)
from live.daemon.snapshot import PortView
from live.notes.events import FACE_SOURCES, KEYS_IN
from live.ports.api import Driver, Inlet, Outlet, PortError
from live.ports.census import Census
from live.ports.pulse import Pulse

LOOK_EVERY_NS: Final = NS_PER_S
"""How often ports of others are looked for (failure studies: at most once a second)."""

TRY_SOON_NS: Final = NS_PER_S // 4
SOON: Final = 40
"""While there is no MIDI service it is looked for so often, so many times; then as for ports."""

PULSE_EVERY_NS: Final = NS_PER_S // 20
"""How often the MIDI service is asked for a sign of life."""

DEAD_AFTER_NS: Final = 6 * NS_PER_S
"""Silence after which the service counts as dead, whatever else is known. A JACK server stands
still for 5 s when a client is killed, and goes on with every connection: that must not cost us
ours."""
ASK_AFTER_NS: Final = NS_PER_S // 5
"""Further silence after which JACK is asked whether it has died; see `live.ports.census`."""

_MORTAL: Final = "jack"
"""The driver whose service is a program that may die; the others are parts of the system."""

Packet = tuple[int, int, bytes]
"""(stamp in ns, source, bytes) as a driver delivered them."""


class Rack:
    """Opens, watches and closes ports.

    Args:
        plan: the ports wanted.
        open_driver: makes the driver; raises PortError when there is no MIDI service.
        deliver: takes packets in, on the driver's threads.
        watched: ask the service for signs of life.
    Thread: one owner (the engine's).
    """

    def __init__(
        self,
        plan: PortPlan,
        open_driver: Callable[[], Driver],
        deliver: Callable[[Packet], None],
        *,
        watched: bool = True,
    ) -> None:
        self._plan = plan
        self._open_driver = open_driver
        self._deliver = deliver
        self._watched = watched
        self._driver: Driver | None = None
        self._problem = ""
        self._inlets: dict[Wanted, Inlet] = {}
        self._waiting: dict[Wanted, str] = {}
        self._next_look_ns = 0
        self._tries = 0
        self._found_from = first_found(plan.keyboards, plan.own_inputs)
        self._pulse: Pulse | None = None
        self._next_pulse_ns = 0
        self._census: Census | None = None
        self._silent_since_ns: int | None = None
        self.outlets: dict[str, Outlet] = {}
        """Open outputs by role; the note path looks here."""

    def next_wish_ns(self) -> int:
        """When `look` or `lives` wants to be called next."""
        if self._pulse is None:
            return self._next_look_ns
        return min(self._next_look_ns, self._next_pulse_ns)

    def wants_look(self, now_ns: int) -> bool:
        """True when it is time for `look`."""
        return now_ns >= self._next_look_ns

    def lives(self, now_ns: int) -> bool:
        """False once the MIDI service has died: then nothing may be sent or closed any more."""
        if self._pulse is None or now_ns < self._next_pulse_ns:
            return True
        self._next_pulse_ns = now_ns + PULSE_EVERY_NS
        if self._pulse.lives(now_ns):
            if self._silent_since_ns is not None and self._census is not None:
                self._census.rest()
            self._silent_since_ns = None
            return True
        if self._silent_since_ns is None:
            self._silent_since_ns = now_ns
        silent_ns = now_ns - self._silent_since_ns
        if self._census is not None and silent_ns >= ASK_AFTER_NS and self._census.gone(now_ns):
            return False
        return silent_ns < DEAD_AFTER_NS

    def look(self, now_ns: int) -> tuple[bool, list[int]]:
        """Open what can be opened and notice what has gone.

        Returns: (something changed, sources that were lost).
        """
        self._next_look_ns = now_ns + LOOK_EVERY_NS
        if self._driver is None:
            if self._tries < SOON:
                self._next_look_ns = now_ns + TRY_SOON_NS
            self._tries += 1
            return self._open_all(), []
        changed, lost = self._drop_lost(self._driver)
        changed |= self._add_keyboards(self._driver)
        for wanted in list(self._waiting):
            changed |= self._try_open(self._driver, wanted)
        return changed, lost

    def views(self) -> tuple[tuple[PortView, ...], tuple[PortView, ...]]:
        """(inputs, outputs) for people."""
        if self._driver is None:
            return (PortView(KEYS_IN, "", "no MIDI service", self._problem),), ()
        service = self._driver.name
        inputs = [
            PortView(w.role, p.name, "open", _reason(w, service)) for w, p in self._inlets.items()
        ]
        outputs = [
            PortView(role, port.name, "open", _reason(self._wanted_out(role), service))
            for role, port in self.outlets.items()
        ]
        for wanted, why in self._waiting.items():
            view = PortView(wanted.role, wanted.name, "waiting", why)
            (inputs if wanted.is_input else outputs).append(view)
        return tuple(inputs), tuple(outputs)

    def close(self) -> None:
        """Close every port; what was sent has left when this returns. Safe to call twice."""
        for inlet in self._inlets.values():
            inlet.close()
        for outlet in self.outlets.values():
            outlet.close()
        self._inlets.clear()
        self.outlets.clear()
        if self._census is not None:
            self._census.close()
        if self._driver is not None:
            self._driver.close()
            self._driver = None

    # Inside

    def _open_all(self) -> bool:
        try:
            driver = self._driver = self._open_driver()
        except PortError as error:
            changed = self._problem != str(error)
            self._problem = str(error)
            return changed
        with driver.still():
            for wanted in wanted_ports(self._plan, has_virtual=driver.has_virtual_ports):
                self._try_open(driver, wanted)
            self._add_keyboards(driver)
            self._pulse = self._start_pulse(driver)
        return True

    def _start_pulse(self, driver: Driver) -> Pulse | None:
        """Watch the service through our own inputs; without a way round there is no watch."""
        own = [inlet for wanted, inlet in self._inlets.items() if not wanted.name]
        try:
            pulse = Pulse(driver, own) if own and self._watched else None
        except PortError:
            return None
        if pulse is not None and driver.name == _MORTAL:
            self._census = Census(self._plan.client, own[0].name)
        return pulse

    def _try_open(self, driver: Driver, wanted: Wanted) -> bool:
        """Open a port; what cannot be opened now waits. True when its state has changed."""
        virtual = not wanted.name
        name = wanted.name or wanted.role
        try:
            if wanted.is_input:
                self._inlets[wanted] = driver.open_input(
                    name, self._stamped(wanted.source), virtual=virtual
                )
            else:
                self.outlets[wanted.role] = driver.open_output(name, virtual=virtual)
        except PortError as error:
            changed = self._waiting.get(wanted) != str(error)
            self._waiting[wanted] = str(error)
            return changed
        self._waiting.pop(wanted, None)
        return True

    def _stamped(self, source: int) -> Callable[[int, bytes], None]:
        deliver = self._deliver

        def take(at_ns: int, data: bytes) -> None:
            deliver((at_ns, source, data))

        return take

    def _add_keyboards(self, driver: Driver) -> bool:
        """Listen to hardware keyboards that have appeared, if the plan says `auto`."""
        if AUTO not in self._plan.keyboards:
            return False
        known = {inlet.name for inlet in self._inlets.values()}
        names = hardware_keyboards(driver.input_names(), driver.name, self._plan.client)
        changed = False
        for name in names:
            taken = {wanted.source for wanted in self._inlets}
            free = [n for n in range(self._found_from, FACE_SOURCES.start) if n not in taken]
            if name not in known and free:
                wanted = Wanted(KEYS_IN, name, free[0], found=True)
                opened = self._try_open(driver, wanted)
                self._waiting.pop(wanted, None)  # looked for again by itself
                changed |= opened
        return changed

    def _drop_lost(self, driver: Driver) -> tuple[bool, list[int]]:
        """Close inputs and outputs of others that have gone; they are waited for.

        Returns: (something has gone, the sources among it).
        """
        named = [w for w in self._inlets if w.name]
        out_roles = [r for r in self.outlets if self._wanted_out(r).name]
        if not named and not out_roles:
            return False, []
        inputs, outputs = set(driver.input_names()), set(driver.output_names())
        changed, lost = False, []
        for wanted in named:
            if self._inlets[wanted].name not in inputs:
                self._inlets.pop(wanted).close()
                lost.append(wanted.source)
                if not wanted.found:
                    self._waiting[wanted] = "unplugged"
        for role in out_roles:
            if self.outlets[role].name not in outputs:
                self.outlets.pop(role).close()
                self._waiting[self._wanted_out(role)] = "unplugged"
                changed = True
        return changed or bool(lost), lost

    def _wanted_out(self, role: str) -> Wanted:
        return next(wanted for wanted in wanted_outputs(self._plan) if wanted.role == role)


def _reason(wanted: Wanted, service: str) -> str:
    """Why this port is the one in use."""
    if not wanted.name:
        return f"our own port on {service}"
    how = "a keyboard that was found" if wanted.found else "named in the settings"
    return f"{how}, on {service}"
