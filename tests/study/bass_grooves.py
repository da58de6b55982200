"""The drums of a passage as a groove that the composer can be given."""

from __future__ import annotations

from tests.study.bass_corpus import STEP, WINDOW, Window

HATS = frozenset({42, 44, 46, 51, 59})


def groove_of(window: Window) -> str:
    """The two bars written out: kick, snare and hat where they stand."""
    hats = frozenset(round(tick / STEP) for tick, key, _ in window.drums if key in HATS)
    rows = {"kick": window.kicks, "snare": window.snares, "hat": hats}
    signs = {
        drum: "".join("x" if step in steps else "." for step in range(WINDOW // STEP))
        for drum, steps in rows.items()
    }
    return " ".join(f"{drum} {row}" for drum, row in signs.items())
