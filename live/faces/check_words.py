"""The findings of `undersong check` as text with a small histogram, and as JSON."""

from __future__ import annotations

import platform
from collections.abc import Iterator
from dataclasses import asdict
from typing import Final

from live.faces.check_stats import EDGES_MS, Times
from live.faces.check_verdict import (
    LIMIT_MS,
    LIMIT_VARIATION_MS,
    NOTICED_VARIATION_MS,
    Findings,
    advice,
    verdict,
)
from live.faces.output import columns

_BAR: Final = 30
"""Characters of the longest bar."""

_FAR: Final = len(EDGES_MS) - 1


def named(found: Findings) -> list[tuple[str, Times]]:
    """What was measured, each with its name for people, in order."""
    every = (
        ("through Undersong", found.daemon),
        ("through a bare forwarder", found.bare),
        ("answer notes late by", found.answers),
        ("clock pulses off by", found.clock),
        ("wake-ups late by", found.waits),
    )
    return [(name, times) for name, times in every if times is not None]


def as_json(found: Findings) -> dict[str, object]:
    """Everything, with the bins of each histogram."""

    def of(times: Times | None) -> dict[str, object] | None:
        return None if times is None else times.as_dict()

    return {
        "system": f"{platform.system()} {platform.release()}",
        "fit": None if found.daemon is None else not found.faults,
        "verdict": verdict(found),
        "advice": advice(found),
        "through": of(found.daemon),
        "bare": of(found.bare),
        "answers": of(found.answers),
        "clock": of(found.clock),
        "waits": of(found.waits),
        "lost": dict(found.lost),
        "flood": {name: asdict(flood) for name, flood in found.floods.items()},
        "niceness": found.niceness,
        "limit_ms": LIMIT_MS,
        "limit_variation_ms": LIMIT_VARIATION_MS,
    }


def as_lines(found: Findings) -> Iterator[str]:
    """For people: figures, histograms, losses, limits, verdict, what to change."""
    yield from _figures(found)
    for name, times in named(found):
        if times.count:
            yield f"{name}:"
            yield from bars(times)
    yield from _counts(found)
    yield (
        f"limits: {LIMIT_MS:g} ms, varying by {LIMIT_VARIATION_MS:g} ms (Wessel & Wright 2002); "
        f"players notice 20 ms, or 10 ms that vary by {NOTICED_VARIATION_MS:g} ms "
        "(Jack et al. 2018)"
    )
    yield verdict(found)
    yield from advice(found)


def bars(times: Times) -> list[str]:
    """A histogram: a line for each bin from the first to the last that holds something."""
    filled = [index for index, count in enumerate(times.bins) if count]
    if not filled:
        return []
    most = max(times.bins)
    rows = []
    for index in range(filled[0], filled[-1] + 1):
        count = times.bins[index]
        length = max(round(_BAR * count / most), 1 if count else 0)
        rows.append((bin_name(index), str(count), "█" * length))
    return columns(rows, right=(0, 1), indent=2)


def bin_name(index: int) -> str:
    """What a bin holds, in words: `1.5 to 2 ms`."""
    if index == _FAR:
        return f"{EDGES_MS[index]:g} ms and more"
    return f"{EDGES_MS[index]:g} to {EDGES_MS[index + 1]:g} ms"


def _figures(found: Findings) -> list[str]:
    rows: list[tuple[str, ...]]
    rows = [("", "count", "median", "99 of 100", "longest", "varies")]
    for name, times in named(found):
        values = (times.median_ms, times.p99_ms, times.max_ms, times.variation_ms)
        shown = (f"{value:.2f} ms" if times.count else "-" for value in values)
        rows.append((name, str(times.count), *shown))
    return columns(rows, right=(1, 2, 3, 4, 5))


def _counts(found: Findings) -> Iterator[str]:
    if found.daemon is None or found.bare is None:
        return
    added_ms = found.daemon.median_ms - found.bare.median_ms
    yield f"Undersong adds {added_ms:.2f} ms (median) to the shortest way through this system."
    lost = found.lost
    yield (
        f"lost: {lost['daemon']} through Undersong, {lost['bare']} bare, {lost['answers']} answer "
        f"notes, {lost['clock']} clock pulses"
    )
    for path, name in (("daemon", "through Undersong"), ("bare", "bare")):
        flood = found.floods[path]
        yield (
            f"flood of {flood.sent} messages {name}: {flood.lost} lost, "
            f"{flood.moved} out of their order"
        )
    before = "runs before other programs" if found.niceness < 0 else "has no priority"
    yield f"the engine {before} (niceness {found.niceness})"
