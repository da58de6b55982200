"""Following MIDI clock: tempo and phase from 24 pulses a quarter note.

Estimator: a line through the stamps by a Kalman filter without process noise, that is recursive
least squares with fading memory, on pulse number against time (live.clock.pulse_track). At a steady
tempo nothing does better with Gaussian jitter than least squares, and no jitter has to be assumed.
It has two weaknesses: it is slow to believe a change, and it trusts the numbers of the pulses. So a
few explanations of the same pulses are kept side by side, each with its likelihood, and the
likeliest is believed: a pulse was lost or doubled, its stamp went astray, several were held up and
came at once, the tempo changed just now, the phase leapt. A wrong guess costs nothing for good, for
later pulses decide. (A window that is cut when residuals grow was the alternative; it cannot count
lost pulses when the jitter comes near the pulse length, as with 5 ms at 200 BPM, where a pulse is
12.5 ms.)

A gap of half a second, or of four pulses if that is longer, is a lost clock.
Source of the bank of filters: Bar-Shalom, Li and Kirubarajan (Wiley 2001), chapter 11; from memory.
"""

from __future__ import annotations

import math
from typing import Final

from live.clock.pulse_track import MEMORY_PULSES, Track
from live.clock.units import (
    CLOCKS_PER_BEAT,
    MAX_TEMPO_BPM,
    MIN_TEMPO_BPM,
    NS_PER_MINUTE,
    NS_PER_S,
)

LOST_AFTER_NS: Final = NS_PER_S // 2
LOST_AFTER_PULSES: Final = 4
_MIN_PULSE_NS: Final = NS_PER_MINUTE / (MAX_TEMPO_BPM * CLOCKS_PER_BEAT)
_MAX_PULSE_NS: Final = NS_PER_MINUTE / (MIN_TEMPO_BPM * CLOCKS_PER_BEAT)
_SLACK: Final = 1.02
"""Jitter at either end of the range must not make a tempo unknown (own choice)."""

# Prices are minus log-probabilities; all of them own choices, by order of magnitude.
_LOST: Final = math.log(100)
"""One pulse in a hundred is lost ..."""
_LOST_TOO: Final = -math.log(0.7)
"""... and then the next one often is too."""
_MOST_LOST: Final = 4 * CLOCKS_PER_BEAT
_DOUBLED: Final = 1 / 2000
"""Chance that a pulse is one too many; where many are, half of that share more."""
_STRAY: Final = math.log(500) + math.log(100_000_000)
"""A stamp that says nothing: anywhere within 100 ms."""
_BUNCH_NS: Final = 3_000_000
_HELD_TOO: Final = math.log(_BUNCH_NS)
"""A pulse that was held up with the one before it: a machine that stalls delivers them at once."""
_NEW_TEMPO: Final = math.log(100_000)
"""At 170 BPM, a change of tempo about twice an hour."""
_NEW_PHASE: Final = math.log(20)
"""A start that does not wait for the clock that runs."""
_NEW_CLOCK: Final = math.log(1_000_000)
"""Any other tempo, at any phase."""

_TEMPO_STEP: Final = 0.1
"""A new tempo is as far from the old one as this part of it (standard deviation)."""
_DOUBTFUL: Final = 0.3
"""From this part of a pulse on, a deviation may be a lost or doubled pulse."""
_ASTRAY: Final = 3.0
"""Standard deviations from which a stamp may be astray."""
_TWICE_NS: Final = 1_000_000
"""Pulses so near to each other are one that came by two ways, if the clock is a steady one."""
_SAME_PLACE: Final = 0.25
_SAME_TEMPO: Final = 0.005
"""Explanations nearer to each other than this are one. (At 2 % those were thrown together that
four beats part by two pulses.)"""
_MOST_TRACKS: Final = 12
_HOPELESS: Final = 25.0
"""An explanation that much less likely than the best (in nats) is given up."""
_CROWDED: Final = 0.2
"""Share of pulses too many from which there must be a second clock (own choice)."""


class ClockFollower:
    """Estimates tempo and phase of an outside clock. Thread: one owner.

    Cost: 40 to 60 us a pulse at low jitter, 0.2 ms where jitter and pulse length are alike (one
    core of a small machine); there are 40 pulses a second at 100 BPM.
    """

    def __init__(self) -> None:
        self._tracks: list[Track] = []
        self._origin_ns = 0
        self._seen_ns: int | None = None  # the last sign of life
        self._pulse_seen_ns = 0
        self._phase_is_new = False
        self.index = 0
        """Number of the latest pulse, lost ones counted and doubled ones not. It may be put right
        by a few a few pulses later."""
        self.pulse_ns: float | None = None
        """Estimated time between pulses; None before two pulses have come."""
        self.phase_ns = 0
        """Estimated true time of pulse `index`."""

    @property
    def tempo_bpm(self) -> float | None:
        """Estimated tempo, 20 to 400 BPM; None before two pulses have come."""
        if self.pulse_ns is None:
            return None
        return NS_PER_MINUTE / (self.pulse_ns * CLOCKS_PER_BEAT)

    @property
    def is_crowded(self) -> bool:
        """True when many pulses do not belong to the clock we follow: there is another one."""
        return bool(self._tracks) and self._tracks[0].doubles > _CROWDED

    def pulse(self, at_ns: int) -> None:
        """Take in one clock message stamped `at_ns`."""
        gone = self.is_lost(at_ns)
        self._seen_ns = at_ns
        if not self._tracks or gone:
            self._begin(at_ns)
        elif self._phase_is_new:
            self._new_phase(float(at_ns - self._origin_ns))
        elif self._is_twin(at_ns):
            self._tracks = [_twin(track, at_ns - self._origin_ns) for track in self._tracks]
        else:
            self._follow(float(at_ns - self._origin_ns))
        self._phase_is_new = False
        self._pulse_seen_ns = at_ns
        self._settle()

    def expect(self, at_ns: int) -> None:
        """A start or continue has come: pulses are due, and the next one may be a new phase."""
        self._seen_ns = at_ns
        self._phase_is_new = True

    def is_lost(self, now_ns: int) -> bool:
        """True when nothing came for so long that the clock must have gone."""
        deadline_ns = self.deadline_ns()
        return deadline_ns is not None and now_ns >= deadline_ns

    def deadline_ns(self) -> int | None:
        """When the clock counts as lost if nothing more comes; None without a clock."""
        if self._seen_ns is None:
            return None
        pulses_ns = 0.0 if self.pulse_ns is None else LOST_AFTER_PULSES * self.pulse_ns
        return self._seen_ns + round(max(LOST_AFTER_NS, pulses_ns)) + 1

    def rest(self) -> None:
        """The clock has gone; should it come back, its tempo may be the same."""
        self._tracks.clear()
        self._seen_ns = None

    def forget(self) -> None:
        """Start anew, keeping nothing."""
        self.rest()
        self.pulse_ns = None

    # Inside

    def _begin(self, at_ns: int) -> None:
        """The first pulse, or the first after a gap: only the tempo may still be the same."""
        self._origin_ns = at_ns
        if self.pulse_ns is None:
            first = Track(0.0, (_MIN_PULSE_NS * _MAX_PULSE_NS) ** 0.5)
        else:
            first = Track(0.0, self.pulse_ns, _TEMPO_STEP * self.pulse_ns)
        first.index = first.born = self.index + 1
        self._tracks = [first]

    def _new_phase(self, at_ns: float) -> None:
        """The first pulse after a start: on the old line or on a new one.

        Whatever came before, it is the next one in the count.
        """
        old = self._tracks[0]
        if old.heard < 2:
            self._begin(round(at_ns) + self._origin_ns)
            return
        after_lost = old.ahead(2, _LOST).hear(at_ns)
        after_lost.index = old.index + 1
        leapt = old.ahead(1, _NEW_PHASE).leap(at_ns)
        self._tracks = [old.ahead(1).hear(at_ns), after_lost, leapt]

    def _follow(self, at_ns: float) -> None:
        tracks: list[Track] = []
        best = self._tracks[0]
        for track in self._tracks:
            self._explain(track, at_ns, tracks)
        expected = best.ahead(1)
        if best.heard > 1 and expected.off(at_ns) > 1.0:
            step_ns = _TEMPO_STEP * best.pulse_ns
            new = [best.ahead(0, _NEW_TEMPO).loosen(0.0, step_ns).ahead(1)]
            if expected.off(at_ns) > _ASTRAY:
                anything_ns = best.pulse_ns / 2
                new.append(best.ahead(0, _NEW_CLOCK).loosen(anything_ns, anything_ns).ahead(1))
            for track in new:
                track.born = track.index
                tracks.append(track.hear(at_ns))
        self._tracks = tracks

    def _explain(self, track: Track, at_ns: float, tracks: list[Track]) -> None:
        """What this pulse may be if the explanation so far is right."""
        next_one = track.ahead(1)
        late_ns, pulse_ns = at_ns - next_one.time_ns, track.pulse_ns
        if track.heard == 1:  # nothing is known of the tempo, so any of the first may be lost
            tracks.append(track.ahead(2, _LOST).hear(at_ns))
        elif track.heard > 1:
            if _is_held_too(track, at_ns):
                tracks.append(track.ahead(1, _HELD_TOO).hold(at_ns))
            elif next_one.off(at_ns) > _ASTRAY:
                tracks.append(track.ahead(1, _STRAY).hold(at_ns))
            if late_ns > _DOUBTFUL * pulse_ns:
                lost = min(max(1, round(late_ns / pulse_ns)), _MOST_LOST)
                price = _LOST + (lost - 1) * _LOST_TOO
                tracks.append(track.ahead(1 + lost, price).hear(at_ns))
            elif late_ns < -_DOUBTFUL * pulse_ns:
                chance = _DOUBLED + track.doubles / 2
                tracks.append(track.ahead(0, math.log(pulse_ns / chance)).skip())
        tracks.append(next_one.hear(at_ns))

    def _settle(self) -> None:
        """Put the likeliest first, give up the hopeless, and tell what the first one says."""
        self._tracks.sort(key=_likely_first)
        top = self._tracks[0].score
        kept: list[Track] = []
        for track in self._tracks:
            if len(kept) == _MOST_TRACKS or track.score < top - _HOPELESS:
                break
            if track.index - track.born > MEMORY_PULSES:
                track.born = 0
            if track.pulse_ns > 0 and not any(_agree(track, one) for one in kept):
                kept.append(track)
        self._tracks = kept or self._tracks[:1]
        for track in self._tracks:
            track.score -= top
        best = self._tracks[0]
        self.index = best.index
        self.phase_ns = self._origin_ns + round(best.time_ns)
        slope_ns = best.pulse_ns
        if best.heard > 1 and _MIN_PULSE_NS / _SLACK <= slope_ns <= _MAX_PULSE_NS * _SLACK:
            self.pulse_ns = min(max(slope_ns, _MIN_PULSE_NS), _MAX_PULSE_NS)

    def _is_twin(self, at_ns: int) -> bool:
        """True for a pulse that came by a second way."""
        best = self._tracks[0]
        steady = best.noise_ns < best.pulse_ns / 8
        return at_ns - self._pulse_seen_ns < _TWICE_NS and steady


def _is_held_too(track: Track, at_ns: float) -> bool:
    """True if this pulse may have been held up with the one before it."""
    return at_ns - track.held_ns < _BUNCH_NS and at_ns > track.time_ns + track.pulse_ns


def _twin(track: Track, at_ns: float) -> Track:
    """A pulse right behind another is one too many, unless both were held up."""
    if _is_held_too(track, at_ns):
        return track.ahead(1).hold(at_ns)
    return track.ahead(0).skip()


def _agree(one: Track, other: Track) -> bool:
    """True if two explanations say the same of what comes.

    If they count differently, that is of old, and nothing that comes can decide it.
    """
    return (
        one.born == other.born
        and abs(one.time_ns - other.time_ns) < _SAME_PLACE * other.pulse_ns
        and abs(one.pulse_ns - other.pulse_ns) < _SAME_TEMPO * other.pulse_ns
    )


def _likely_first(track: Track) -> float:
    return -track.score
