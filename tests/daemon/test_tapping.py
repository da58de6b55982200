"""Tap tempo as a command."""

from __future__ import annotations

from live.daemon.tapping import Tapping

BEAT_NS = round(60e9 / 171.3)


def test_the_first_tap_changes_nothing_and_the_next_ones_the_tempo() -> None:
    tapping = Tapping()
    assert tapping.tap(0) == ({}, {"taps": 1, "text": "tap again on the next beat"})
    for number in range(1, 9):
        changes, told = tapping.tap(number * BEAT_NS)
        assert changes == {"time.tempo": 171.3}
        assert told == {"taps": number + 1, "tempo": 171.3, "text": "tempo 171.3"}
