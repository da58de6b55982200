"""What the receiver on `through` has been told of its channels: pedals that are down, MPE zones.

Sources: MIDI 1.0 Detailed Specification 4.2.1 (MMA 1996), "Control Change" and "Channel Mode
Messages"; RP-015 (reset all controllers lifts the pedals and forgets the chosen parameter number);
MPE 1.0 (M1-100, 2018): RPN 6 on channel 1 or 16 makes it the manager of the zone of so many
channels next to it, and a pedal or mode message there is meant for the whole zone (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from live.notes.midi import PEDAL_DOWN, RESET_CONTROLLERS, SOSTENUTO, SUSTAIN, control_change

_DATA_ENTRY: Final = 6
_PARAMETER_LSB: Final = 100
_PARAMETER_MSB: Final = 101
_OTHER_PARAMETERS: Final = (98, 99)
"""Non-registered parameter numbers; choosing one lets go of the registered one."""

_ZONE_PARAMETER: Final = (0, 6)
_NO_PARAMETER: Final = (127, 127)
_MANAGERS: Final = (0, 15)
_MOST_MEMBERS: Final = 15
_MOST_IN_TWO_ZONES: Final = 14


class Channels:
    """Follows the controllers that leave on one output. Thread: one owner (the engine's)."""

    def __init__(self) -> None:
        self._pedals: dict[tuple[int, int], set[int]] = {}  # (channel, pedal) -> who presses it
        self._members: dict[int, int] = {}
        self._parameter: dict[int, tuple[int, int]] = {}

    def control(self, source: int, channel: int, controller: int, value: int) -> None:
        """A controller leaves; channel 0 to 15."""
        if controller in (SUSTAIN, SOSTENUTO):
            if value >= PEDAL_DOWN:
                self._pedals.setdefault((channel, controller), set()).add(source)
            else:
                self._pedals.pop((channel, controller), None)
        elif controller == _DATA_ENTRY:
            if channel in _MANAGERS and self._parameter.get(channel) == _ZONE_PARAMETER:
                self._set_zone(channel, value)
        elif controller == _PARAMETER_MSB:
            self._parameter[channel] = (value, self._chosen(channel)[1])
        elif controller == _PARAMETER_LSB:
            self._parameter[channel] = (self._chosen(channel)[0], value)
        elif controller in _OTHER_PARAMETERS:
            self._parameter[channel] = _NO_PARAMETER
        elif controller == RESET_CONTROLLERS:
            for one in self.zone(channel):
                self._parameter.pop(one, None)

    def zone(self, channel: int) -> Sequence[int]:
        """The channels that a mode message on this one is meant for, itself first."""
        count = self._members.get(channel, 0)
        if not count:
            return (channel,)
        return range(count + 1) if channel == 0 else range(15, 14 - count, -1)

    def lift(self, channel: int) -> list[bytes]:
        """Forget the pedals of a zone. Returns: the messages that lift those that are down."""
        zone = self.zone(channel)
        return self._lifted([pedal for pedal in self._pedals if pedal[0] in zone])

    def lift_of(self, source: int) -> list[bytes]:
        """A source has gone: what it alone pressed comes up."""
        pressed = [pedal for pedal, by in self._pedals.items() if source in by]
        for pedal in pressed:
            self._pedals[pedal].discard(source)
        return self._lifted([pedal for pedal in pressed if not self._pedals[pedal]])

    def lift_all(self) -> list[bytes]:
        """Every pedal comes up."""
        return self._lifted(list(self._pedals))

    def forget_parameters(self) -> None:
        """Every channel was told to reset its controllers; the zones stay."""
        self._parameter.clear()

    def reset(self) -> None:
        """The receiver goes back to how it was switched on (MIDI 1.0, system reset)."""
        self._pedals.clear()
        self._members.clear()
        self._parameter.clear()

    def _lifted(self, pedals: list[tuple[int, int]]) -> list[bytes]:
        for pedal in pedals:
            del self._pedals[pedal]
        return [control_change(channel, controller, 0) for channel, controller in pedals]

    def _chosen(self, channel: int) -> tuple[int, int]:
        return self._parameter.get(channel, _NO_PARAMETER)

    def _set_zone(self, manager: int, members: int) -> None:
        """The newer zone takes the channels it needs from the other."""
        count = self._members[manager] = min(members, _MOST_MEMBERS)
        other = 15 - manager
        if count + self._members.get(other, 0) > _MOST_IN_TWO_ZONES:
            self._members[other] = max(0, _MOST_IN_TWO_ZONES - count)
