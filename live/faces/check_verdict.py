"""Whether a machine is fit for live playing, judged from what was measured; and what to change.

Limits: D. Wessel and M. Wright, "Problems and Prospects for Intimate Musical Control of Computers",
Computer Music Journal 26(3), 2002: at most 10 ms from action to sound, varying by at most 1 ms.
R. H. Jack, A. Mehrabi, T. Stockman and A. McPherson, "Action-sound Latency and the Perceived
Quality of Digital Musical Instruments", Music Perception 36(1), 2018: players did not rate a steady
10 ms below 0 ms, but did so with 10 ms that varies by 3 ms, and with 20 ms.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Final

from live.faces.check_stats import Times

LIMIT_MS: Final = 10.0
"""Longest time from action to sound (Wessel & Wright 2002)."""

LIMIT_VARIATION_MS: Final = 1.0
"""Largest variation of that time: same source; taken as the standard deviation (our reading)."""

NOTICED_VARIATION_MS: Final = 3.0
"""Variation that players noticed (Jack et al. 2018)."""

_PERIODS_THROUGH: Final = 1.5
"""The shortest way through JACK takes so many periods (own measurements: 2.0 ms at 64 frames of
48 kHz, 3.8 at 128, 32 at 1024)."""

_GOOD_PERIOD_MS: Final = 3.0
"""A period up to here is short enough: 128 frames of 48 kHz last 2.7 ms, of 44.1 kHz 2.9."""

_SLOW_WAIT_MS: Final = 1.0
"""Late wake-ups from here on, 1 in 100, use up the whole variation allowed."""

_OURS: Final = "daemon"


@dataclass(frozen=True, slots=True)
class Flood:
    """A flood through one path: messages sent, lost, and out of their order."""

    sent: int
    lost: int
    moved: int


@dataclass(frozen=True, slots=True)
class Findings:
    """What was measured.

    Args:
        waits: lateness of a waiting thread.
        daemon: time through the engine, None without a MIDI service.
        bare: time through the bare forwarder, None without a MIDI service.
        answers: lateness of scheduled notes at their receiver, None without a MIDI service.
        clock: how far clock pulses lie from an even grid, None without a MIDI service.
        lost: messages lost on the way, by what was measured.
        floods: what became of the floods, by path.
        niceness: the engine's; below 0 = it may run before other programs.
        problem: why only the waiting was measured; empty if all was.
    """

    waits: Times
    daemon: Times | None = None
    bare: Times | None = None
    answers: Times | None = None
    clock: Times | None = None
    lost: Mapping[str, int] = field(default_factory=dict)
    floods: Mapping[str, Flood] = field(default_factory=dict)
    niceness: int = 0
    problem: str = ""

    @property
    def faults(self) -> list[str]:
        """Why the machine is not fit, as far as it was measured; empty = nothing against it."""
        return list(_faults(self))


def verdict(found: Findings) -> str:
    """Whether the machine is fit, in words."""
    if found.problem:
        return "The way of a note could not be measured, only the waiting: no verdict."
    if found.faults:
        return f"This machine is not fit for live playing yet: {'; '.join(found.faults)}."
    return "This machine is fit for live playing."


def advice(found: Findings) -> list[str]:
    """What to change, most useful first, a sentence each; empty if nothing needs to change."""
    return list(_advice(found)) if found.faults else []


def _faults(found: Findings) -> Iterator[str]:
    if found.daemon is None:
        return
    if found.daemon.count == 0:
        yield "no note came through"
    yield from _too_late("1 note in 100 takes", "the delay", found.daemon)
    if found.answers is not None:
        yield from _too_late("1 answer note in 100 is late by", "its lateness", found.answers)
    if found.clock is not None and found.clock.variation_ms > LIMIT_VARIATION_MS:
        was = f"{found.clock.variation_ms:.1f} ms, should be {LIMIT_VARIATION_MS:g} ms or less"
        yield f"MIDI clock is uneven ({was})"
    for name, what in ((_OURS, "notes"), ("answers", "answer notes"), ("clock", "clock pulses")):
        if found.lost.get(name):
            yield f"{found.lost[name]} of the {what} were lost"
    flood = found.floods.get(_OURS)
    if flood is not None and (flood.lost or flood.moved):
        yield f"a flood lost {flood.lost} of {flood.sent} messages and {flood.moved} changed places"


def _too_late(what: str, varies: str, times: Times) -> Iterator[str]:
    if times.p99_ms > LIMIT_MS:
        yield f"{what} more than {LIMIT_MS:g} ms ({times.p99_ms:.1f} ms)"
    if times.variation_ms > LIMIT_VARIATION_MS:
        was = f"{times.variation_ms:.1f} ms, should be {LIMIT_VARIATION_MS:g} ms or less"
        felt = ", and players notice that" if times.variation_ms >= NOTICED_VARIATION_MS else ""
        yield f"{varies} varies too much ({was}{felt})"


def _advice(found: Findings) -> Iterator[str]:
    slow_waits = found.waits.p99_ms > _SLOW_WAIT_MS
    if slow_waits:
        yield (
            f"The system wakes programs late (1 in 100 by {found.waits.p99_ms:.1f} ms): end busy "
            "programs, and switch the processor from saving power to full speed."
        )
    bare = found.bare
    if bare is not None and (bare.p99_ms > LIMIT_MS or bare.variation_ms > LIMIT_VARIATION_MS):
        already = "The shortest way through this system is already too long or uneven, whatever"
        period_ms = bare.median_ms / _PERIODS_THROUGH
        if period_ms > _GOOD_PERIOD_MS:
            yield (
                f"{already} program plays: set a shorter period in the sound server (it seems to "
                f"be about {period_ms:.1f} ms; 64 or 128 frames are good)."
            )
        elif not slow_waits:
            yield f"{already} program plays: end other programs that use the sound server."
    if found.niceness >= 0:
        yield (
            "Undersong may not run before other programs here: allow it (Linux: a line "
            "'@audio - nice -11' in /etc/security/limits.conf, and your user in that group)."
        )
    bare_flood, flood = found.floods.get("bare"), found.floods.get(_OURS)
    if bare_flood is not None and bare_flood.lost:
        yield (
            "The system itself loses messages in a flood, without Undersong too: thin out "
            "controllers at their source, or use a longer period."
        )
    elif flood is not None and flood.lost:
        yield "Only Undersong loses messages in a flood here: please report it, with this output."
