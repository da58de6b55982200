"""The transport: where we are in the song, by our own clock or by an outside one.

Position is a straight line from an anchor (a time and a tick) at the tempo in force; a change of
tempo or a clock pulse sets a new anchor. Nothing is summed up, so nothing drifts.
"""

from __future__ import annotations

from typing import Final, Literal

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

_NEARLY_TICKS: Final = 0.001
"""A tick is reached when it is this near: stamps are whole nanoseconds, ticks are not."""


def check_tempo(tempo_bpm: float) -> float:
    """Return the tempo if it lies in 20 to 400 BPM inclusive, else raise FieldError."""
    if not MIN_TEMPO_BPM <= tempo_bpm <= MAX_TEMPO_BPM:  # also refuses NaN
        allowed = f"{MIN_TEMPO_BPM:g} to {MAX_TEMPO_BPM:g} BPM"
        raise FieldError("tempo", allowed, tempo_bpm)
    return tempo_bpm


class Transport:
    """Song position against the monotonic clock.

    Args:
        tempo_bpm: quarter notes a minute of our own clock, 20 to 400.
    Thread: one owner (the engine's).
    """

    def __init__(self, tempo_bpm: float) -> None:
        self.tempo_bpm = check_tempo(tempo_bpm)
        """The tempo in force: our own, or that of the outside clock while we follow it."""
        self.playing = False
        self.following = False
        """True while the outside clock tells the tempo."""
        self.outside_runs = False
        """True from a start or continue that came in to its stop, whether we play or not."""
        self._own_tempo_bpm = tempo_bpm
        self._lost = False
        self._follower = ClockFollower()
        self._anchor_ns = 0
        self._anchor_ticks = 0.0
        self._armed = False  # start or continue was received: the next pulse is the position
        self._next_pulse_ticks = 0  # position that the next pulse stands for, while it is stopped
        self._origin = (0, 0)  # number of a pulse and the position it stood for, while it runs

    def ticks_at(self, at_ns: int) -> float:
        """Position at a time, in ticks from the song's start; stands still while stopped."""
        if not self.playing:
            return self._anchor_ticks
        elapsed = (at_ns - self._anchor_ns) * self.tempo_bpm * TICKS_PER_BEAT / NS_PER_MINUTE
        return self._anchor_ticks + elapsed

    def tick_at(self, at_ns: int) -> int:
        """The last whole tick reached at a time; `tick_at(ns_at(tick))` is `tick`."""
        return int(self.ticks_at(at_ns) + _NEARLY_TICKS)

    def ns_at(self, ticks: float) -> int:
        """Time at which a position is reached while playing, nearest nanosecond."""
        ahead = (ticks - self._anchor_ticks) * NS_PER_MINUTE / (self.tempo_bpm * TICKS_PER_BEAT)
        return self._anchor_ns + round(ahead)

    def start(self, at_ns: int, tick: int = 0) -> None:
        """Play by our own clock from a position, 0 = the song's start, which is at `at_ns`."""
        self._alone()
        self.playing = True
        self._anchor_ns, self._anchor_ticks = at_ns, float(tick)

    @property
    def is_crowded(self) -> bool:
        """True when more than one clock comes in."""
        return self._follower.is_crowded

    def join(self, at_ns: int) -> bool:
        """Play along where an outside clock that runs has got to. False if none runs."""
        if not self.outside_runs or self._follower.is_lost(at_ns):
            return False
        self.playing = self.following = True
        self._anchor_on_pulse()
        return True

    def stop(self, at_ns: int) -> None:
        """Stop at once and keep the position."""
        self._anchor_here(at_ns)
        self.playing = False
        if self._lost:
            self.outside_runs = False
            self._alone()

    def set_tempo(self, at_ns: int, tempo_bpm: float) -> bool:
        """Set our own tempo; True if it is in force from `at_ns` on.

        It waits while an outside clock tells the tempo. The position never jumps.
        Raises: FieldError outside 20 to 400 BPM; nothing has changed then.
        """
        self._own_tempo_bpm = check_tempo(tempo_bpm)
        if self.following and not self._lost:
            return False
        self._anchor_here(at_ns)
        self.tempo_bpm = tempo_bpm
        return True

    def unfollow(self, at_ns: int) -> None:
        """Listen to the outside clock no longer; what plays goes on at our own tempo."""
        self._anchor_here(at_ns)
        self._alone()
        self._follower.forget()
        self.outside_runs = False

    def clock_state(self) -> ClockState:
        """What the clock in use is doing."""
        if self._lost:
            return "lost"
        return "running" if self.playing else "stopped"

    # Outside clock (MIDI 1.0: F8 timing clock, FA start, FB continue, FC stop, F2 song position)

    def clock_pulse(self, at_ns: int) -> bool:
        """Take in F8. True when this pulse is the first after a start or continue.

        While we play by our own clock, pulses alone change nothing: a start or continue does.
        """
        self._follower.pulse(at_ns)
        if self._lost:
            self._rejoin(at_ns)
        began = self._armed
        if began:
            self._armed = False
            self.playing = self.following = self.outside_runs = True
            self._origin = (self._follower.index, self._next_pulse_ticks)
        if self.playing and not self.following:
            return False
        self.following = True
        if self.playing:
            self._anchor_on_pulse()
        else:
            self.tempo_bpm = self._follower.tempo_bpm or self.tempo_bpm
        if began:  # the song begins with its pulse, not before it
            self._anchor_ns = min(self._anchor_ns, at_ns)
        return began

    def pulse_position(self) -> tuple[int, int]:
        """(time in ns, ticks) of the latest pulse, by the best estimate, while following."""
        return self._anchor_ns, int(self._anchor_ticks)

    def clock_start(self, at_ns: int) -> None:
        """Take in FA: the next pulse is the first beat of the song."""
        self._next_pulse_ticks = 0
        self._arm(at_ns)

    def clock_continue(self, at_ns: int) -> None:
        """Take in FB: the next pulse is the position where it stopped or was sent to."""
        self._arm(at_ns)

    def clock_stop(self, at_ns: int) -> None:
        """Take in FC: stop at once; the next pulse's position is kept for a continue."""
        if self.outside_runs:
            self._next_pulse_ticks = self._pulse_ticks() + TICKS_PER_CLOCK
        self._armed = self.outside_runs = False
        if self.playing:
            self.stop(at_ns)

    def song_position(self, sixteenths: int) -> bool:
        """Take in F2: where to continue, in sixteenths, 0 to 16383. False (ignored) while it runs.

        MIDI 1.0 has it sent while stopped.
        """
        if self.outside_runs:
            return False
        self._next_pulse_ticks = sixteenths * CLOCKS_PER_SIXTEENTH * TICKS_PER_CLOCK
        if not self.playing:
            self._anchor_ticks = float(self._next_pulse_ticks)
        return True

    def clock_deadline_ns(self) -> int | None:
        """When a silent outside clock counts as lost; None when we follow none."""
        if not self.following or self._lost:
            return None
        return self._follower.deadline_ns()

    def check_clock(self, now_ns: int) -> bool:
        """Note whether the outside clock has gone; True at the moment it is lost while we play.

        Time goes on at the last tempo then, so that nothing that plays falls over. While we
        stand still nothing is lost: we are on our own again.
        """
        if not self.following or self._lost or not self._follower.is_lost(now_ns):
            return False
        if self.playing:
            self._follower.rest()
            self._lost = True
            return True
        self._follower.forget()
        armed = self._armed  # a start still counts when its first pulse comes late
        self._alone()
        self._armed = armed
        self.outside_runs = False
        return False

    def _rejoin(self, at_ns: int) -> None:
        """A lost clock is back: it goes on from the pulse nearest to where we have got to."""
        self._lost = False
        nearest = round(self.ticks_at(at_ns) / TICKS_PER_CLOCK) * TICKS_PER_CLOCK
        self._origin = (self._follower.index, nearest)

    def _pulse_ticks(self) -> int:
        """Position of the latest pulse while the outside clock runs."""
        index, ticks = self._origin
        return ticks + (self._follower.index - index) * TICKS_PER_CLOCK

    def _anchor_on_pulse(self) -> None:
        self._anchor_ns = self._follower.phase_ns
        self._anchor_ticks = float(self._pulse_ticks())
        self.tempo_bpm = self._follower.tempo_bpm or self.tempo_bpm

    def _arm(self, at_ns: int) -> None:
        self._follower.expect(at_ns)
        self.following = self._armed = True
        self.playing = self.outside_runs = self._lost = False
        self._anchor_ticks = float(self._next_pulse_ticks)

    def _alone(self) -> None:
        """Our own clock is in charge again."""
        self.following = self._lost = self._armed = False
        self.tempo_bpm = self._own_tempo_bpm

    def _anchor_here(self, at_ns: int) -> None:
        self._anchor_ticks = self.ticks_at(at_ns)
        self._anchor_ns = at_ns
