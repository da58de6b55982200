"""Which ports are wanted, from the settings; and the choice among what exists, with its reason."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from live.daemon.labels import source_numbers
from live.daemon.settings import Settings
from live.daemon.wiring import offers_return
from live.notes.events import (
    ANSWER,
    CLOCK_IN,
    CLOCK_OUT,
    CLOCK_SOURCE,
    KEYS_IN,
    LIGHTS,
    RETURN,
    RETURN_SOURCE,
    THROUGH,
)
from live.ports.match import may_join_unasked

_HARDWARE_ON_JACK: Final = ("system:", "a2j:", "Midi-Bridge:")
"""Prefixes under which JACK, its ALSA bridge and PipeWire show hardware MIDI ports."""


@dataclass(frozen=True, slots=True)
class PortPlan:
    """What the user wants opened; an empty name means a port of our own.

    Args:
        client: name our ports appear under.
        service: MIDI service, `auto` = the first that works.
        keyboards: inputs of others to listen to; `auto` = hardware.
        clock, through, answer, clock_out, lights: existing ports to use, "" = our own.
        leads: offer `clock out`.
        lit: offer `lights`.
        own_inputs, own_outputs: further ports of our own.
        outputs: further outputs of others.
        returns: offer `return`.
    """

    client: str
    service: str
    keyboards: tuple[str, ...]
    clock: str
    through: str
    answer: str
    clock_out: str = ""
    leads: bool = False
    lights: str = ""
    lit: bool = False
    own_inputs: tuple[str, ...] = ()
    own_outputs: tuple[str, ...] = ()
    outputs: tuple[str, ...] = ()
    returns: bool = False


@dataclass(frozen=True, slots=True)
class Wanted:
    """One port to open: role, name ("" = our own), source number for inputs, found by `auto`."""

    role: str
    name: str
    source: int = -1
    found: bool = False

    @property
    def is_input(self) -> bool:
        """True for inputs."""
        return self.source >= 0


def port_plan(settings: Settings) -> PortPlan:
    """The ports' part of the settings."""
    return PortPlan(
        client=settings["ports.client"],
        service=settings["ports.service"],
        keyboards=tuple(settings["ports.keyboards"]),
        clock=settings["ports.clock"],
        through=settings["ports.through"],
        answer=settings["ports.answer"],
        clock_out=settings["ports.clock_out"],
        leads=settings["time.clock_out"],
        lights=settings["lights.port"],
        lit=settings["lights.on"],
        own_inputs=tuple(settings["ports.own_inputs"]),
        own_outputs=tuple(settings["ports.own_outputs"]),
        outputs=tuple(settings["ports.outputs"]),
        returns=offers_return(settings.routes),
    )


def hardware_keyboards(names: list[str], service: str, client: str) -> list[str]:
    """Inputs that `auto` listens to: hardware, never our own ports or loopbacks."""
    free = [name for name in names if may_join_unasked(name, client)]
    if service.lower() == "jack":
        return [name for name in free if name.startswith(_HARDWARE_ON_JACK)]
    return free


def wanted_ports(plan: PortPlan, *, has_virtual: bool) -> list[Wanted]:
    """Every port of the plan that has a name of its own or can be offered by us.

    `auto` is not in it: what it finds is added as it appears.
    """
    numbers = source_numbers(plan.keyboards, plan.own_inputs)
    inputs = [Wanted(KEYS_IN, "", numbers.pop(KEYS_IN))]
    inputs.append(Wanted(CLOCK_IN, plan.clock, CLOCK_SOURCE))
    inputs += [
        Wanted(name, "", number) if name in plan.own_inputs else Wanted(KEYS_IN, name, number)
        for name, number in numbers.items()
    ]
    if plan.returns:
        inputs.append(Wanted(RETURN, "", RETURN_SOURCE))
    return [w for w in [*inputs, *wanted_outputs(plan)] if w.name or has_virtual]


def wanted_outputs(plan: PortPlan) -> list[Wanted]:
    """Every output of the plan."""
    outputs = [Wanted(THROUGH, plan.through), Wanted(ANSWER, plan.answer)]
    outputs += [Wanted(name, "") for name in plan.own_outputs]
    outputs += [Wanted(name, name) for name in plan.outputs]
    if plan.leads:
        outputs.append(Wanted(CLOCK_OUT, plan.clock_out))
    if plan.lit:
        outputs.append(Wanted(LIGHTS, plan.lights))
    return outputs
