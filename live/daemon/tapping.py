"""Tap tempo as a command: the setting it makes, and what the one who taps is told."""

from __future__ import annotations

from typing import Any

from live.clock.tap import TapTempo


class Tapping:
    """Takes in taps from any face. Thread: one owner."""

    def __init__(self) -> None:
        self._taps = TapTempo()

    def tap(self, at_ns: int) -> tuple[dict[str, Any], dict[str, object]]:
        """A tap at a time. Returns: (settings to change, none at the first tap; the reply)."""
        tempo_bpm = self._taps.tap(at_ns)
        if tempo_bpm is None:
            return {}, {"taps": self._taps.taps, "text": "tap again on the next beat"}
        tempo_bpm = round(tempo_bpm, 1)
        told = {"taps": self._taps.taps, "tempo": tempo_bpm, "text": f"tempo {tempo_bpm:g}"}
        return {"time.tempo": tempo_bpm}, told
