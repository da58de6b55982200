"""Leading with MIDI clock: which messages are due when, while nobody else tells the tempo.

Pulses run while stopped too, so that receivers know the tempo before the start. Their times come
from an anchor, the transport's while it plays, and are never summed up. While an outside clock is
followed nothing is sent: two masters would fight, and what we follow must not hear itself.

Source: MIDI 1.0 Detailed Specification 4.2.1 (MMA 1996), system common and real time messages.
Start and continue say that the next pulse is the position; receivers get a millisecond between the
two (midi.org/community/midi-software/send-midi-clock).
"""

from __future__ import annotations

from typing import Final

from live.clock.transport import Transport
from live.clock.units import (
    CLOCKS_PER_BEAT,
    CLOCKS_PER_SIXTEENTH,
    NS_PER_MINUTE,
    TICKS_PER_CLOCK,
    TICKS_PER_SIXTEENTH,
)

PULSE: Final = b"\xf8"
START: Final = b"\xfa"
CONTINUE: Final = b"\xfb"
STOP: Final = b"\xfc"
SONG_POSITION: Final = 0xF2
LAST_SIXTEENTH: Final = 16383
"""Song position has 14 bits."""

READY_NS: Final = 1_000_000
"""What a receiver gets between start or continue and the pulse that is meant."""
MOST_OVERDUE: Final = CLOCKS_PER_BEAT
"""Pulses that are sent in one go after a stall; after a longer one receivers are sent to where we
are, for so many at once would be taken for a tempo."""

Sent = tuple[int, bytes]
"""(when it was due in ns, message)."""


class ClockLeader:
    """Tells what is due on the clock output.

    Args:
        transport: where we are; looked at only.
    Thread: one owner (the engine's).
    """

    def __init__(self, transport: Transport) -> None:
        self._transport = transport
        self._in_song = False
        self._next_pulse = 0  # number of the next pulse from the song's start, or since the anchor
        self._anchor_ns: int | None = None  # of pulses while stopped; None = silent
        self._tempo_bpm = 0.0
        self._not_before_ns = 0
        self._last_ns = 0

    @property
    def leads(self) -> bool:
        """True while pulses are sent."""
        return self._in_song or self._anchor_ns is not None

    def start(self, at_ns: int) -> list[Sent]:
        """The transport plays by our own clock from now on, wherever it is."""
        if self._transport.tick_at(at_ns):
            return self._send_to(at_ns)
        self._begin(0, at_ns)
        return [(at_ns, START)]

    def stop(self, at_ns: int) -> list[Sent]:
        """The transport has stopped, or is not ours any more; nothing if we did not play."""
        if not self._in_song:
            return []
        self._in_song = False
        self._idle(max(self._last_ns, self._not_before_ns - READY_NS))
        return [(at_ns, STOP)]

    def silence(self) -> None:
        """Send nothing until asked again."""
        self._in_song = False
        self._anchor_ns = None

    def due_ns(self) -> int | None:
        """When the next pulse is due, 0 = at once; None while an outside clock is followed."""
        transport = self._transport
        if self._in_song:
            return max(transport.ns_at(self._next_pulse * TICKS_PER_CLOCK), self._not_before_ns)
        if transport.following or transport.playing:
            return None
        return 0 if self._anchor_ns is None else self._idle_ns()

    def take(self, now_ns: int) -> list[Sent]:
        """The messages due up to now, in order."""
        sent: list[Sent] = []
        if self._in_song:
            overdue = self._transport.tick_at(now_ns) // TICKS_PER_CLOCK - self._next_pulse
            if overdue > MOST_OVERDUE:
                sent = [(now_ns, STOP), *self._send_to(now_ns)]
        elif self.due_ns() is None:
            self._anchor_ns = None
        elif self._anchor_ns is None or now_ns - self._idle_ns() > MOST_OVERDUE * self._pulse_ns():
            self._idle(now_ns)
        elif self._tempo_bpm != self._transport.tempo_bpm:
            self._idle(self._last_ns)
        while (due_ns := self.due_ns()) is not None and due_ns <= now_ns:
            sent.append((due_ns, PULSE))
            self._last_ns = due_ns
            self._next_pulse += 1
        return sent

    # Inside

    def _begin(self, pulse: int, at_ns: int) -> None:
        self._in_song, self._next_pulse = True, pulse
        self._not_before_ns = at_ns + READY_NS

    def _send_to(self, at_ns: int) -> list[Sent]:
        """Send receivers to the next sixteenth.

        Beyond what can be told they go on where they stopped.
        """
        sixteenth = -(-self._transport.tick_at(at_ns) // TICKS_PER_SIXTEENTH)
        self._begin(sixteenth * CLOCKS_PER_SIXTEENTH, at_ns)
        if sixteenth > LAST_SIXTEENTH:
            return [(at_ns, CONTINUE)]
        place = bytes((SONG_POSITION, sixteenth & 0x7F, sixteenth >> 7))
        return [(at_ns, place), (at_ns, CONTINUE)]

    def _idle(self, anchor_ns: int) -> None:
        """Pulses while stopped are counted from here; the first one is a pulse away."""
        self._anchor_ns, self._next_pulse = anchor_ns, 1
        self._last_ns = anchor_ns
        self._tempo_bpm = self._transport.tempo_bpm

    def _idle_ns(self) -> int:
        return (self._anchor_ns or 0) + round(self._next_pulse * self._pulse_ns())

    def _pulse_ns(self) -> float:
        return NS_PER_MINUTE / (self._tempo_bpm * CLOCKS_PER_BEAT)
