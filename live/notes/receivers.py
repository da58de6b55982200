"""The receivers on our outputs: what each has been told of its channels, and how it is told."""

from __future__ import annotations

from live.notes.channels import TOLD, Channels
from live.notes.events import Output
from live.notes.facts import silence_messages
from live.notes.gestures import rest_of
from live.notes.held import HeldLedger, Sounding
from live.notes.midi import CONTROL_CHANGE, NOTE_OFF, RESET_CONTROLLERS, ends_notes, note_off
from live.notes.record import Record


class Receivers:
    """Sends controllers, bends and pressures, and what they end.

    Args:
        ledger: the engine's.
    Thread: one owner (the engine's).
    """

    def __init__(self, ledger: HeldLedger) -> None:
        self._ledger = ledger
        self._channels: dict[str, Channels] = {}

    def on(self, output: str) -> Channels:
        """What the receiver on an output has been told."""
        found = self._channels.get(output)
        if found is None:
            found = self._channels[output] = Channels()
        return found

    def send(self, at_ns: int, by: int, output: str, data: bytes, out: list[Output]) -> None:
        """Send a message of a channel that is no note, for a source.

        What a mode message ends at the receiver ends here too, by messages of its own: a receiver
        may ignore it (MIDI 1.0, channel mode messages).
        """
        channels = self.on(output)
        if data[0] & 0xF0 == CONTROL_CHANGE and data[1] in TOLD:
            channel = data[0] & 0x0F
            if ends_notes(data):
                end_notes(at_ns, self._ledger.silence(output, channels.zone(channel)), out)
            elif data[1] == RESET_CONTROLLERS:
                out.extend(Record(at_ns, "out", output, lift) for lift in channels.lift(channel))
            channels.control(channel, data[1], data[2])
        channels.gesture(by, data)
        out.append(Record(at_ns, "out", output, data))

    def would_end(self, output: str, data: bytes) -> bool:
        """True if a note-off, a gesture's end or a mode message would end what is held now."""
        channel = data[0] & 0x0F
        if data[0] & 0xF0 == NOTE_OFF:
            return self._ledger.is_sounding(Sounding(output, channel, data[1]))
        if rest_of(data) == data:
            return self.on(output).holds(data)
        return any(sounding.channel == channel for sounding in self._ledger.on(output))

    def lift(self, at_ns: int, by: int | None, out: list[Output]) -> None:
        """Pedals, wheels and pressure that a source holds go to rest (None = every source's)."""
        for output, channels in self._channels.items():
            lifts = channels.lift_all() if by is None else channels.lift_of(by)
            out.extend(Record(at_ns, "out", output, lift) for lift in lifts)

    def silence(self, at_ns: int, output: str, out: list[Output]) -> None:
        """Tell a receiver to fall silent; what sounds must have been ended before."""
        self.on(output).forget_parameters()
        out.extend(Record(at_ns, "out", output, data) for data in silence_messages())

    def reset(self, output: str) -> None:
        """A receiver is told to go back to how it was switched on."""
        self.on(output).reset()


def end_notes(at_ns: int, ended: list[Sounding], out: list[Output]) -> None:
    """Send the note-offs of notes that end."""
    out.extend(Record(at_ns, "out", s.port, note_off(s.channel, s.note)) for s in ended)


def on_channel(data: bytes, channel: int) -> bytes:
    """A channel message on another channel, 0 to 15."""
    if data[0] & 0x0F == channel:
        return data
    return bytes((data[0] & 0xF0 | channel, *data[1:]))
