"""Lights that come back: some controllers return what lights them, as if their keys were played.

A light is a note-on, and returned it would sound. Nor may it be taken for a wired loop, or a
player's note for a light: pads of fixed velocity can send just what lit them. So an input counts as
one that returns lights only when they come back in the order in which they left, six of them more
than other notes; from then on it is what left, each once, that is dropped.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from live.notes.lights import PROBE
from live.notes.midi import NOTE_OFF

RETURN_NS: Final = 2_000_000_000
"""A light is back within this time, on a machine so busy that JACK stands still for a while, too
(own choice; 0.25 s was too short there). It may be long: what has left once is dropped once, so a
press that equals a light on its way back is not lost."""

CABLE_NS: Final = 960_000
"""A message of three bytes takes this long on a cable (MIDI 1.0: 31 250 bits a second, ten bits a
byte), so the last light of a drawing returns so much later."""

DRAWINGS_OUT: Final = 64
"""After so many drawings of which nothing came back an input returns none (own choice)."""

_MOST_REMEMBERED: Final = 2048
"""More different messages than 128 lights show in a long session; then all are forgotten."""


class LightEcho:
    """Knows lights that come back. Thread: one owner (the engine's)."""

    WHAT: Final = "what lights a controller comes in again"

    def __init__(self) -> None:
        self.drawings = 0
        """How often every light was to be drawn again."""
        self._out: dict[bytes, tuple[int, int]] = {}  # light -> (until when it may return, count)
        self._after: dict[bytes, bytes] = {}  # message -> the one that left after it
        self._last = b""
        self._cable_free_ns = 0
        self._came: dict[int, bytes] = {}  # source -> the last light that it returned
        self._score: dict[int, int] = {}
        self._missing: dict[int, int] = {}  # source that returns lights -> drawings since one came

    def draw_again(self) -> None:
        """Whoever draws is to draw every light again."""
        self.drawings += 1

    def sent(self, at_ns: int, lights: Iterable[bytes]) -> None:
        """Lights leave."""
        if len(self._out) > _MOST_REMEMBERED:
            self._out.clear()
            self._after.clear()
        for light in lights:
            self._cable_free_ns = max(at_ns, self._cable_free_ns) + CABLE_NS
            until_ns, count = self._out.get(light, (0, 0))
            count = count + 1 if at_ns < until_ns else 1
            self._out[light] = (self._cable_free_ns + RETURN_NS, count)
            self._after[self._last] = light
            self._last = light
        self._missing = {
            source: out + 1 for source, out in self._missing.items() if out < DRAWINGS_OUT
        }

    def is_echo(self, at_ns: int, source: int, data: bytes) -> bool:
        """A message came in. True if it is a light to be dropped."""
        if not self._out or data[0] & 0xE0 != NOTE_OFF:  # neither note-on nor note-off
            return False
        out = self._out.get(data)
        is_back = out is not None and at_ns < out[0] and out[1] > 0
        if out is not None and is_back and source in self._missing:
            self._missing[source] = 0
            self._out[data] = (out[0], out[1] - 1)
            return True
        if is_back or source in self._score:  # for nearly every note this is all
            self._count(source, data if is_back else b"")
        return False

    def found(self, source: int) -> bool:
        """True once when an input turns out to return lights; what it holds is to be let go."""
        if self._score.get(source, 0) < PROBE:
            return False
        del self._score[source]
        self._missing[source] = 0
        return True

    def forget(self, source: int) -> None:
        """An input has gone."""
        for known in (self._came, self._score, self._missing):
            known.pop(source, None)

    def _count(self, source: int, light: bytes) -> None:
        """A light came back, or b"" = another note came in."""
        before = self._came.get(source, b"")
        in_order = light and (not before or self._after.get(before) == light)
        self._came[source] = light
        score = self._score.get(source, 0) + (1 if in_order else -1)
        if score > 0:
            self._score[source] = score
        else:
            self._score.pop(source, None)
