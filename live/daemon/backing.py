"""Feeds the built-in sound: what goes through, the answer, and the groove on request."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from live.answer.grooves import find_groove, strokes_in
from live.answer.swing import in_force
from live.clock.metre import parse_metre
from live.clock.units import NS_PER_S, ns_to_ticks, ticks_to_ns
from live.daemon.engine_view import EngineView
from live.daemon.settings import Settings
from live.daemon.staff import Worker
from live.notes.events import ANSWER, THROUGH
from live.notes.midi import DRUM_CHANNEL, NOTE_ON
from live.notes.record import Record

AHEAD_NS: Final = NS_PER_S // 5
"""Drum hits are handed over this long before they sound; a change of tempo reaches them late."""


class Backing:
    """Forwards to the sound process. Thread: the supervisor's main.

    Args:
        sound: the sound process, None = silence.
    """

    def __init__(self, sound: Worker | None) -> None:
        self._sound = sound
        self._drummed_to_tick = -1
        self._level_db: float | None = None

    def follow(self, records: Iterable[Record]) -> None:
        """Play what went out, as soon as it is heard of."""
        if self._sound is None:
            return
        for record in records:
            if record.kind == "out" and record.port in (THROUGH, ANSWER):
                self._sound.send(("event", record.at_ns, _voice(record), record.data))
            elif record.kind == "stop":
                self._sound.send(("cancel", "drums"))
                self._drummed_to_tick = -1
            elif record.kind == "panic":
                self._sound.send(("panic",))

    def level(self, settings: Settings) -> None:
        """Pass a changed level on."""
        level_db = settings["sound.level_db"]
        if self._sound is not None and level_db != self._level_db:
            self._level_db = level_db
            self._sound.send(("level", level_db))

    def drum(self, view: EngineView, settings: Settings) -> None:
        """Hand over the groove's strokes of the next moment while the transport plays."""
        if self._sound is None or not view.playing or not settings["sound.drums"]:
            return
        metre = parse_metre(settings["time.metre"])
        until = int(view.tick + ns_to_ticks(AHEAD_NS, view.tempo_bpm))
        begin = max(self._drummed_to_tick + 1, int(view.tick))
        self._drummed_to_tick = until
        groove = find_groove(view.groove or settings["answer.groove"])
        swing = in_force(groove, metre, view.tempo_bpm, settings["taste.swing"])
        origin = view.first_bar * metre.bar_ticks
        ticks = range(begin, until + 1)
        for tick, key, velocity in strokes_in(ticks, groove, metre, swing, origin):
            at_ns = view.anchor_ns + ticks_to_ns(round(tick - view.tick), view.tempo_bpm)
            data = bytes((NOTE_ON | DRUM_CHANNEL, key, velocity))
            self._sound.send(("event", at_ns, "drums", data))


def _voice(record: Record) -> str:
    """The voice of what went out: the answer is bass, channel 10 is drums, the rest is keys."""
    if record.port == ANSWER:
        return "bass"
    drums = record.data[0] < 0xF0 and record.data[0] & 0x0F == DRUM_CHANNEL
    return "drums" if drums else "keys"
