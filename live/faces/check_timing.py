"""What was heard, held against when it should have been heard. Pure."""

from __future__ import annotations

import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from live.clock.units import CLOCKS_PER_BEAT, NS_PER_MINUTE, NS_PER_S
from live.notes.midi import CLOCK, START

_GIVEN_UP_NS: Final = NS_PER_S
"""A message that comes later than this is another one."""

Heard = tuple[int, bytes]
"""(monotonic ns, one message)."""


@dataclass(frozen=True, slots=True)
class Timing:
    """How far each message was from its moment, in ns, and how many never came."""

    off_ns: tuple[int, ...]
    lost: int


def lateness(due: Sequence[Heard], heard: Sequence[Heard]) -> Timing:
    """Scheduled messages: how much later than due each was heard.

    Args:
        due: the ideal moments, in order.
        heard: what came, in the order in which it came.
    Returns: a time for each that came; what is due and is not found in its place is lost.
    """
    off_ns, place = [], 0
    for due_ns, data in due:
        found = _find(heard, place, due_ns, data)
        if found is not None:
            off_ns.append(max(heard[found][0] - due_ns, 0))
            place = found + 1
    return Timing(tuple(off_ns), len(due) - len(off_ns))


def _find(heard: Sequence[Heard], place: int, due_ns: int, data: bytes) -> int | None:
    """Where a message is, from `place` on and not long after it was due."""
    for index in range(place, len(heard)):
        at_ns, came = heard[index]
        if at_ns > due_ns + _GIVEN_UP_NS:
            return None
        if came == data:
            return index
    return None


def clock_jitter(heard: Sequence[Heard], tempo_bpm: float) -> Timing:
    """MIDI clock from its start message on: how far each pulse lies from an even grid.

    The grid has the tempo's own step, and its place is the median of all pulses, so that a steady
    delay counts as none. Pulses of the grid between the first and the last that are not there are
    lost.
    """
    first = next((i for i, one in enumerate(heard) if one[1][0] == START), len(heard))
    pulses = [at_ns for at_ns, data in heard[first:] if data[0] == CLOCK]
    if not pulses:
        return Timing((), 0)
    step_ns = NS_PER_MINUTE / (tempo_bpm * CLOCKS_PER_BEAT)
    expected = round((pulses[-1] - pulses[0]) / step_ns) + 1
    places = [round((at_ns - pulses[0]) / step_ns) for at_ns in pulses]
    if expected <= len(pulses):  # none is missing, however late some are
        places = list(range(len(pulses)))
    offsets = [at_ns - place * step_ns for at_ns, place in zip(pulses, places, strict=True)]
    middle = statistics.median(offsets)
    off_ns = tuple(round(abs(offset - middle)) for offset in offsets)
    return Timing(off_ns, max(expected - len(pulses), 0))


def flood_losses(sent: Sequence[bytes], came: Sequence[bytes]) -> tuple[int, int]:
    """(messages that did not come, messages out of their order among those that did)."""
    if list(sent) == list(came):
        return 0, 0
    left: dict[bytes, int] = {}
    for data in came:
        left[data] = left.get(data, 0) + 1
    kept = []
    for data in sent:
        if left.get(data, 0):
            left[data] -= 1
            kept.append(data)
    moved = sum(a != b for a, b in zip(kept, came, strict=False))
    return len(sent) - len(kept), moved
