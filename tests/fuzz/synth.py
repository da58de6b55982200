"""A model of a synthesiser's voices: what sounds, from the bytes alone. It knows nothing of ours.

Sources: MIDI 1.0 Detailed Specification 4.2.1 (MMA 1996), "Note On" (velocity 0 is a note-off),
"Channel Mode Messages" (120 silences, 123 to 127 release and respect the hold pedal, 121 resets
controllers, the pedals among them: RP-015), "System Reset"; General MIDI for 64 hold and 66
sostenuto; MPE 1.0 (M1-100, 2018): a zone is set by RPN 6 on its manager channel (1 or 16), and a
pedal or mode message there is meant for the whole zone. Headings and the MPE rules from memory.
"""

from __future__ import annotations

from dataclasses import dataclass, field

Voice = tuple[int, int]
"""(channel 0 to 15, note)."""

MODULATION, HOLD, SOSTENUTO = 1, 64, 66
SOUND_OFF, RESET = 120, 121
NOTES_OFF = range(123, 128)
_MEMBERS_RPN = (0, 6)


@dataclass
class Synth:
    """One receiver, on one port.

    Args:
        deaf: takes no notice of mode messages and reset, as old gear may.

    Fields:
        down: notes whose note-off has not come.
        ringing: notes that only a pedal holds.
        doubled: note-ons for a note that was down.
        lone: note-offs for a note that was not.
        wheels: pitch bend, channel pressure and modulation that are not at rest, by (status,
            controller or 0); reset puts them there (RP-015).
    """

    deaf: bool = False
    down: set[Voice] = field(default_factory=set)
    ringing: set[Voice] = field(default_factory=set)
    doubled: list[Voice] = field(default_factory=list)
    lone: list[Voice] = field(default_factory=list)
    hold: set[int] = field(default_factory=set)
    wheels: dict[tuple[int, int], bytes] = field(default_factory=dict)
    sostenuto: dict[int, set[Voice]] = field(default_factory=dict)
    members: dict[int, int] = field(default_factory=dict)
    _rpn: dict[int, list[int]] = field(default_factory=dict)

    @property
    def sounding(self) -> set[Voice]:
        return self.down | self.ringing

    def hear(self, data: bytes) -> None:
        kind, channel = data[0] & 0xF0, data[0] & 0x0F
        if kind == 0x90 and data[2]:
            self._on((channel, data[1]))
        elif kind in (0x80, 0x90):
            self._off((channel, data[1]))
        elif kind == 0xB0:
            if data[1] == MODULATION:
                self._wheel((data[0], MODULATION), data[2:], b"\x00")
            self._control(channel, data[1], data[2])
        elif kind == 0xE0:
            self._wheel((data[0], 0), data[1:], b"\x00\x40")
        elif kind == 0xD0:
            self._wheel((data[0], 0), data[1:], b"\x00")
        elif data[0] == 0xFF and not self.deaf:
            self._power_up()

    def scope(self, channel: int) -> set[int]:
        """Channels that a message on this one is meant for."""
        count = self.members.get(channel, 0)
        own = range(1, 1 + count) if channel == 0 else range(15 - count, 15)
        return {channel, *own} if count else {channel}

    def _wheel(self, which: tuple[int, int], value: bytes, rest: bytes) -> None:
        if value == rest:
            self.wheels.pop(which, None)
        else:
            self.wheels[which] = value

    def _on(self, voice: Voice) -> None:
        if voice in self.down:
            self.doubled.append(voice)
        self.down.add(voice)
        self.ringing.discard(voice)

    def _off(self, voice: Voice) -> None:
        if voice in self.down:
            self._let_go({voice})
        else:
            self.lone.append(voice)

    def _let_go(self, voices: set[Voice]) -> None:
        self.down -= voices
        self.ringing |= {v for v in voices if self._pedalled(v)}

    def _pedalled(self, voice: Voice) -> bool:
        held = any(voice[0] in self.scope(channel) for channel in self.hold)
        return held or any(voice in caught for caught in self.sostenuto.values())

    def _of(self, channel: int) -> set[Voice]:
        meant = self.scope(channel)
        return {voice for voice in self.down if voice[0] in meant}

    def _control(self, channel: int, controller: int, value: int) -> None:
        if controller == HOLD:
            self.hold = self.hold | {channel} if value >= 64 else self.hold - {channel}
            self._damp()
        elif controller == SOSTENUTO:
            if value < 64:
                self.sostenuto.pop(channel, None)
                self._damp()
            elif channel not in self.sostenuto:
                self.sostenuto[channel] = self._of(channel)
        elif controller in (98, 99, 100, 101):
            chosen = self._rpn.setdefault(channel, [127, 127])
            if controller < 100:  # a non-registered parameter is chosen instead
                chosen[:] = 127, 127
            else:
                chosen[controller % 2 == 0] = value
        elif controller == 6 and tuple(self._rpn.get(channel, ())) == _MEMBERS_RPN:
            self._set_zone(channel, value)
        elif not self.deaf:
            self._mode(channel, controller)

    def _mode(self, channel: int, controller: int) -> None:
        meant = self.scope(channel)
        if controller == SOUND_OFF:
            self.down = {v for v in self.down if v[0] not in meant}
            self.ringing = {v for v in self.ringing if v[0] not in meant}
        elif controller in NOTES_OFF:
            self._let_go(self._of(channel))
        elif controller == RESET:
            self.hold -= meant
            self.wheels = {w: v for w, v in self.wheels.items() if w[0] & 0x0F not in meant}
            for one in meant:
                self.sostenuto.pop(one, None)
                self._rpn.pop(one, None)
            self._damp()

    def _damp(self) -> None:
        """A pedal has come up: what nothing holds falls silent."""
        self.ringing = {voice for voice in self.ringing if self._pedalled(voice)}

    def _set_zone(self, channel: int, count: int) -> None:
        if channel not in (0, 15):
            return
        count = min(count, 15)
        other = 15 - channel
        self.members[channel] = count
        if count + self.members.get(other, 0) > 14:
            self.members[other] = max(0, 14 - count)

    def _power_up(self) -> None:
        self.down.clear()
        self.ringing.clear()
        self.hold.clear()
        self.wheels.clear()
        self.sostenuto.clear()
        self.members.clear()
        self._rpn.clear()
