"""A function with a fault behind three doors, one behind the other, for the fuzzer to find."""

from __future__ import annotations

DOORS = (17, 42, 9)


def check(shape: tuple[int, ...]) -> None:
    """Raise if the numbers of the three doors stand in a row."""
    opened = 0
    for number in shape:
        if number == DOORS[opened]:
            opened += 1
        else:
            opened = 0
        if opened == 1:
            continue
        if opened == 2:
            continue
        if opened == 3:
            raise ZeroDivisionError
