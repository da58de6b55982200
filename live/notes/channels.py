"""What the receiver on an output has been told of its channels: gestures that are held, MPE zones.

Sources: MIDI 1.0 Detailed Specification 4.2.1 (MMA 1996), "Control Change" and "Channel Mode
Messages"; RP-015 (reset all controllers ends gestures and forgets the chosen parameter number);
MPE 1.0 (M1-100, 2018): RPN 6 on channel 1 or 16 makes it the manager of the zone of so many
channels next to it, and a pedal or mode message there is meant for the whole zone (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from live.notes.gestures import is_pedal, is_rest, rest_of
from live.notes.midi import ALL_NOTES_OFF, ALL_SOUND_OFF, RESET_CONTROLLERS

_DATA_ENTRY: Final = 6
_PARAMETER_LSB: Final = 100
_PARAMETER_MSB: Final = 101
_OTHER_PARAMETERS: Final = (98, 99)
"""Non-registered parameter numbers; choosing one lets go of the registered one."""

TOLD: Final = frozenset(
    {
        _DATA_ENTRY,
        *_OTHER_PARAMETERS,
        _PARAMETER_LSB,
        _PARAMETER_MSB,
        ALL_SOUND_OFF,
        RESET_CONTROLLERS,
        *range(ALL_NOTES_OFF, 128),
    }
)
"""Controllers that a channel's state hangs on, gestures aside."""

_ZONE_PARAMETER: Final = (0, 6)
_NO_PARAMETER: Final = (127, 127)
_MANAGERS: Final = (0, 15)
_MOST_MEMBERS: Final = 15
_MOST_IN_TWO_ZONES: Final = 14


class Channels:
    """Follows the controllers, bends and pressures that leave on one output.

    Thread: one owner (the engine's).
    """

    def __init__(self) -> None:
        self._held: dict[bytes, set[int]] = {}  # what ends a gesture -> who holds it
        self._members: dict[int, int] = {}
        self._parameter: dict[int, tuple[int, int]] = {}

    def gesture(self, source: int, data: bytes) -> None:
        """A message leaves that may be a pedal, modulation, a bend or pressure."""
        rest = rest_of(data)
        if rest is None:
            return
        if is_rest(data):
            self._held.pop(rest, None)
        elif is_pedal(data):
            self._held.setdefault(rest, set()).add(source)
        else:
            self._held[rest] = {source}

    def holds(self, rest: bytes) -> bool:
        """True if the gesture is held that this message would end."""
        return rest in self._held

    def control(self, channel: int, controller: int, value: int) -> None:
        """A controller leaves; channel 0 to 15."""
        if controller == _DATA_ENTRY:
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
        """Forget the gestures of a zone. Returns: the messages that end those that are held."""
        zone = self.zone(channel)
        return self._lifted([rest for rest in self._held if rest[0] & 0x0F in zone])

    def lift_of(self, source: int) -> list[bytes]:
        """A source has gone: what it alone held ends, or what had its word last."""
        held = [rest for rest, by in self._held.items() if source in by]
        for rest in held:
            self._held[rest].discard(source)
        return self._lifted([rest for rest in held if not self._held[rest]])

    def lift_all(self) -> list[bytes]:
        """Every gesture ends."""
        return self._lifted(list(self._held))

    def forget_parameters(self) -> None:
        """Every channel was told to reset its controllers; the zones stay."""
        self._parameter.clear()

    def reset(self) -> None:
        """The receiver goes back to how it was switched on (MIDI 1.0, system reset)."""
        self._held.clear()
        self._members.clear()
        self._parameter.clear()

    def _lifted(self, rests: list[bytes]) -> list[bytes]:
        for rest in rests:
            del self._held[rest]
        return rests

    def _chosen(self, channel: int) -> tuple[int, int]:
        return self._parameter.get(channel, _NO_PARAMETER)

    def _set_zone(self, manager: int, members: int) -> None:
        """The newer zone takes the channels it needs from the other."""
        count = self._members[manager] = min(members, _MOST_MEMBERS)
        other = 15 - manager
        if count + self._members.get(other, 0) > _MOST_IN_TWO_ZONES:
            self._members[other] = max(0, _MOST_IN_TWO_ZONES - count)
