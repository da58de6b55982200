"""From clock time to musical time for one take: piecewise constant tempo, whole bars. Pure."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from live.clock.units import NS_PER_S, TICKS_PER_BEAT, ns_to_ticks
from live.notes.record import Record
from live.takes.meaning import detail_of, note_edge, part_of, tempo_of
from live.takes.take import Take

_TOLERANCE_NS: Final = NS_PER_S // 200
"""Below 5 ms a stated bar line and the tempo agree: that much is the stamp's own lateness."""

_MAX_DRIFT_NS: Final = NS_PER_S // 10
_MAX_DRIFT: Final = 0.01
"""Above 100 ms, or 1% of the time since the last one, a stated bar line is not believed:
small changes of a followed tempo go unnoted, but none that large (own choice)."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """From `from_ns` (at `from_ticks`) on, `tempo_bpm` quarter notes a minute."""

    from_ns: int
    from_ticks: float
    tempo_bpm: float

    def ticks_at(self, at_ns: int) -> float:
        """Ticks at a moment, as if this tempo held for ever in both directions."""
        return self.from_ticks + ns_to_ticks(at_ns - self.from_ns, self.tempo_bpm)


@dataclass(frozen=True, slots=True)
class TickMap:
    """Where the moments of a take lie in ticks.

    Args:
        stretches: one or more, by `from_ns`; the first one's tempo also holds before it.
        first_bar: bars since the start of the song at tick 0; None if no transport ran.
    """

    stretches: tuple[Stretch, ...]
    first_bar: int | None

    def ticks_at(self, at_ns: int) -> int:
        """The nearest tick; negative before the first bar line."""
        current = self.stretches[0]
        for stretch in self.stretches[1:]:
            if stretch.from_ns > at_ns:
                break
            current = stretch
        return round(current.ticks_at(at_ns))

    def stated_tempos(self) -> tuple[tuple[int, float], ...]:
        """As `tempos`, every one as it was stated: those of a file are no jitter."""
        found = {max(0, round(one.from_ticks)): one.tempo_bpm for one in self.stretches}
        return _without_repeats(found)

    def tempos(self, end_ns: int) -> tuple[tuple[int, float], ...]:
        """(ticks, quarter notes a minute) of every change of tempo, the first at tick 0.

        The small changes of a followed clock are jitter: one tempo stands for a run of them while
        no change, nor `end_ns`, lies more than 5 ms beside its moment, and a round one if it can.
        """
        points = [(stretch.from_ticks, stretch.from_ns) for stretch in self.stretches]
        if end_ns > points[-1][1]:
            points.append((self.stretches[-1].ticks_at(end_ns), end_ns))
        found: dict[int, float] = {}
        at, late_ns = 0, 0.0
        while at < len(self.stretches):
            to, tempo = _run_of(points, at, late_ns)
            if to == at + 1:
                tempo = self.stretches[at].tempo_bpm
            found[max(0, round(points[at][0]))] = tempo
            if to < len(points):
                late_ns += _lasts_ns(points[to][0] - points[at][0], tempo)
                late_ns -= points[to][1] - points[at][1]
            at = to
        return _without_repeats(found)


_Point = tuple[float, int]
"""(ticks, nanoseconds)."""


def _lasts_ns(ticks: float, tempo_bpm: float) -> float:
    return ticks / TICKS_PER_BEAT * 60 * NS_PER_S / tempo_bpm


def _run_of(points: list[_Point], at: int, late_ns: float) -> tuple[int, float]:
    """How far one tempo leads from a point that comes `late_ns`.

    Returns: index of the last point that it meets within the tolerance, one further on at least;
        and the tempo.
    """
    from_ticks, from_ns = points[at]
    slowest, fastest, to = 0.0, math.inf, at
    for ticks, at_ns in points[at + 1 :]:
        beat_minutes = (ticks - from_ticks) / TICKS_PER_BEAT * 60 * NS_PER_S
        earliest_ns = at_ns - from_ns - late_ns - _TOLERANCE_NS
        least = beat_minutes / (earliest_ns + 2 * _TOLERANCE_NS)
        most = beat_minutes / earliest_ns if earliest_ns > 0 else math.inf
        if max(slowest, least) > min(fastest, most):
            break
        slowest, fastest, to = max(slowest, least), min(fastest, most), to + 1
    return max(to, at + 1), _roundest(slowest, fastest)


def _roundest(low: float, high: float) -> float:
    """The number between two with the fewest decimals, the nearest to their middle."""
    middle = (low + high) / 2 if high < math.inf else low
    rounded = (round(middle, decimals) for decimals in range(4))
    return next((one for one in rounded if low <= one <= high and one > 0), middle)


def _without_repeats(found: dict[int, float]) -> tuple[tuple[int, float], ...]:
    kept: list[tuple[int, float]] = []
    for ticks, tempo in found.items():
        if not kept or tempo != kept[-1][1]:
            kept.append((ticks, tempo))
    return tuple(kept)


def tick_map(take: Take) -> TickMap:
    """The take's map: from its start record, or else from its first note on a bar line.

    Tempo changes bend it; so do the bar lines that calls and answers state, where a followed
    clock has drifted from the stated tempo.
    """
    start = next((r for r in take.records if r.kind == "start"), None)
    if start is None:
        origin_ns = next((r.at_ns for r in take.records if _is_note_on(r)), take.first_ns)
        first = Stretch(origin_ns, 0.0, take.info.tempo)
        return TickMap(tuple(_bend([first], take, None)), None)
    detail = detail_of(start)
    bar, beat = int(detail.get("bar", 0)), float(detail.get("beat", 0.0))
    tempo = tempo_of(detail) or take.info.tempo
    first = Stretch(start.at_ns, beat * take.metre.beat_ticks, tempo)
    return TickMap(tuple(_bend([first], take, bar)), bar)


def stated_bar_ticks(record: Record, take: Take, first_bar: int | None) -> int | None:
    """Ticks of the bar line that a call, an answer or a section states, None for anything else."""
    states = record.kind in ("call", "answer", "section")
    bar = detail_of(record).get("bar") if states else None
    if first_bar is None or not isinstance(bar, int):
        return None
    return (bar - first_bar) * take.metre.bar_ticks


def _is_note_on(record: Record) -> bool:
    edge = note_edge(record.data) if part_of(record) else None
    return edge is not None and edge.velocity > 0


def _bend(stretches: list[Stretch], take: Take, first_bar: int | None) -> list[Stretch]:
    anchor = 0  # index of the first stretch since the last bar line that was stated
    for record in _later(take.records, stretches[0].from_ns):
        last = stretches[-1]
        bar_ticks = stated_bar_ticks(record, take, first_bar)
        if record.kind == "tempo":
            tempo = tempo_of(detail_of(record))
            if tempo is not None and tempo != last.tempo_bpm:
                stretches.append(Stretch(record.at_ns, last.ticks_at(record.at_ns), tempo))
        elif bar_ticks is not None and record.at_ns > stretches[anchor].from_ns:
            drift_ns = _drift_ns(last, record.at_ns, bar_ticks)
            since_ns = record.at_ns - stretches[anchor].from_ns
            believable_ns = max(_MAX_DRIFT_NS, _MAX_DRIFT * since_ns)
            if _TOLERANCE_NS < abs(drift_ns) <= believable_ns:
                _stretch_to(stretches, anchor, record.at_ns, bar_ticks)
                stretches.append(Stretch(record.at_ns, float(bar_ticks), last.tempo_bpm))
                anchor = len(stretches) - 1
    return stretches


def _later(records: Iterable[Record], from_ns: int) -> list[Record]:
    bending = (r for r in records if r.kind in ("tempo", "call", "answer"))
    return sorted((r for r in bending if r.at_ns > from_ns), key=lambda r: r.at_ns)


def _drift_ns(last: Stretch, at_ns: int, stated_ticks: int) -> float:
    ticks = stated_ticks - last.ticks_at(at_ns)
    return ticks / ns_to_ticks(NS_PER_S, last.tempo_bpm) * NS_PER_S


def _stretch_to(stretches: list[Stretch], anchor: int, at_ns: int, ticks: int) -> None:
    """Scale the tempos since the anchor so that `at_ns` falls on `ticks`."""
    base = stretches[anchor].from_ticks
    ratio = (ticks - base) / (stretches[-1].ticks_at(at_ns) - base)
    for index, old in enumerate(stretches[anchor:], anchor):
        from_ticks = base + (old.from_ticks - base) * ratio
        stretches[index] = Stretch(old.from_ns, from_ticks, old.tempo_bpm * ratio)
