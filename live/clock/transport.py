"""The transport: where we are in the song, by our own clock or by an outside one.

Position is a straight line from an anchor (a time and a tick) at the tempo in force; a change of
tempo or a clock pulse sets a new anchor. Nothing is summed up, so nothing drifts.
"""

from __future__ import annotations

from typing import Literal

from live.clock.follower import ClockFollower
from live.clock.units import (
    CLOCKS_PER_SIXTEENTH,
    MAX_TEMPO_BPM,
    MIN_TEMPO_BPM,
    NS_PER_MINUTE,
    TICKS_PER_BEAT,
    TICKS_PER_CLOCK,
)
from live.theory.errors import FieldError

ClockState = Literal["running", "stopped", "lost"]


def check_tempo(tempo_bpm: float) -> float:
    """Return the tempo if it lies in 20 to 400 BPM inclusive, else raise FieldError."""
    if not MIN_TEMPO_BPM <= tempo_bpm <= MAX_TEMPO_BPM:  # also refuses NaN
        allowed = f"{MIN_TEMPO_BPM:g} to {MAX_TEMPO_BPM:g} BPM"
        raise FieldError("tempo", allowed, tempo_bpm)
    return tempo_bpm


class Transport:
    """Song position against the monotonic clock.

    Args:
        tempo_bpm: quarter notes a minute, 20 to 400.
    Thread: one owner (the engine's).
    """

    def __init__(self, tempo_bpm: float) -> None:
        self.tempo_bpm = check_tempo(tempo_bpm)
        self.playing = False
        self.following = False
        self._lost = False
        self._follower = ClockFollower()
        self._anchor_ns = 0
        self._anchor_ticks = 0.0
        self._armed = False  # start or continue was received: the next pulse is the position
        self._next_pulse_ticks = 0  # position that the next pulse stands for

    def ticks_at(self, at_ns: int) -> float:
        """Position at a time, in ticks from the song's start; stands still while stopped."""
        if not self.playing:
            return self._anchor_ticks
        elapsed = (at_ns - self._anchor_ns) * self.tempo_bpm * TICKS_PER_BEAT / NS_PER_MINUTE
        return self._anchor_ticks + elapsed

    def ns_at(self, ticks: float) -> int:
        """Time at which a position is reached while playing, nearest nanosecond."""
        ahead = (ticks - self._anchor_ticks) * NS_PER_MINUTE / (self.tempo_bpm * TICKS_PER_BEAT)
        return self._anchor_ns + round(ahead)

    def start(self, at_ns: int, from_ticks: int = 0) -> None:
        """Play by our own clock from a position; that position is reached at `at_ns`."""
        self.following = False
        self._armed = False
        self.playing = True
        self._anchor_ns, self._anchor_ticks = at_ns, float(from_ticks)

    def stop(self, at_ns: int) -> None:
        """Stop at once and keep the position."""
        self._anchor_ticks = self.ticks_at(at_ns)
        self._anchor_ns = at_ns
        self.playing = False
        self._armed = False

    def set_tempo(self, at_ns: int, tempo_bpm: float) -> None:
        """Change our own tempo from `at_ns` on; the position does not jump."""
        check_tempo(tempo_bpm)
        self._anchor_ticks = self.ticks_at(at_ns)
        self._anchor_ns = at_ns
        self.tempo_bpm = tempo_bpm

    def clock_state(self) -> ClockState:
        """What the clock in use is doing."""
        if self.following and self._lost:
            return "lost"
        return "running" if self.playing else "stopped"

    # Outside clock (MIDI 1.0: F8 timing clock, FA start, FB continue, FC stop, F2 song position)

    def clock_pulse(self, at_ns: int) -> bool:
        """Take in F8. True when this pulse is the first after a start or continue.

        While we play by our own clock, pulses alone change nothing: a start or continue does.
        """
        self._follower.pulse(at_ns)
        if self.playing and not self.following:
            return False
        self.following = True
        if self._lost:
            self._rejoin(at_ns)
        tempo_bpm = self._follower.tempo_bpm
        began = self._armed
        if began:
            self.playing = True
            self._armed = False
        if self.playing:
            self._anchor_ns = self._follower.phase_ns
            self._anchor_ticks = float(self._next_pulse_ticks)
            self._next_pulse_ticks += TICKS_PER_CLOCK
        if tempo_bpm is not None:
            self.tempo_bpm = tempo_bpm
        return began

    def clock_start(self) -> None:
        """Take in FA: the next pulse is the first beat of the song."""
        self._next_pulse_ticks = 0
        self._arm()

    def clock_continue(self) -> None:
        """Take in FB: the next pulse is the position where it stopped or was sent to."""
        self._arm()

    def clock_stop(self, at_ns: int) -> None:
        """Take in FC."""
        self.following = True
        self._armed = False
        if self.playing:
            self.stop(at_ns)

    def song_position(self, sixteenths: int) -> bool:
        """Take in F2: move to a position in sixteenths, 0 to 16383. False while playing."""
        if self.playing:
            return False
        self.following = True
        self._next_pulse_ticks = sixteenths * CLOCKS_PER_SIXTEENTH * TICKS_PER_CLOCK
        self._anchor_ticks = float(self._next_pulse_ticks)
        return True

    def clock_deadline_ns(self) -> int | None:
        """When a silent outside clock counts as lost; None when we follow none."""
        if not self.following or self._lost:
            return None
        return self._follower.deadline_ns()

    def check_clock(self, now_ns: int) -> bool:
        """Note whether the outside clock has gone; True at the moment it is found lost.

        Time goes on at the last tempo, so that nothing that plays falls over.
        """
        if not self.following or self._lost or not self._follower.is_lost(now_ns):
            return False
        self._lost = True
        self._follower.forget()
        return True

    def _rejoin(self, at_ns: int) -> None:
        """A lost clock is back: it goes on from the pulse nearest to where we have got to."""
        self._lost = False
        if self.playing:
            pulses = round(self.ticks_at(at_ns) / TICKS_PER_CLOCK)
            self._next_pulse_ticks = pulses * TICKS_PER_CLOCK

    def _arm(self) -> None:
        self.following = True
        self._armed = True
        self.playing = False
        self._anchor_ticks = float(self._next_pulse_ticks)
