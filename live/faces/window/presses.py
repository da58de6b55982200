"""Which of the keys that are down was pressed last. Pure: no Qt here."""

from __future__ import annotations

from live.daemon.snapshot import HeldView


def in_press_order(before: tuple[HeldView, ...], now: tuple[HeldView, ...]) -> tuple[HeldView, ...]:
    """`now`, those keys first that were down in `before`, in its order; then the new ones.

    A snapshot lists keys by pitch; from one to the next it shows which are new.
    """
    current = {held.pressed: held for held in now}
    kept = [current[held.pressed] for held in before if held.pressed in current]
    known = {held.pressed for held in before}
    return (*kept, *(held for held in now if held.pressed not in known))
