"""The call listener: gathers what the player plays in the call bars, as a phrase on the bar."""

from __future__ import annotations

from typing import Final

from live.clock.units import TICKS_PER_BEAT
from live.notes.phrase import Call, PhraseNote

SourceKey = tuple[int, int, int]
"""(source, channel, pressed note): a key of a keyboard."""

EARLY_TICKS: Final = TICKS_PER_BEAT // 8
"""A note this little before the call's bar line was meant for it (a 32nd note; own choice)."""

MAX_NOTES: Final = 2000
"""Notes a call may hold (own choice: far beyond playing); later ones are still played and kept."""


class CallListener:
    """Collects the notes of one call. Positions are ticks from the song's start.

    Thread: one owner (the engine's).
    """

    def __init__(self) -> None:
        self.number = 0
        self.start_tick = 0
        self.start_ns = 0
        """When the call's first bar line is, or was."""
        self.last_tick = 0.0
        """When a note of the call last began or ended."""
        self.is_open = False
        self._notes: list[PhraseNote] = []
        self._down: dict[SourceKey, tuple[float, int, int]] = {}
        self._bass_less_other = 0

    def begin(self, start_tick: int, start_ns: int) -> None:
        """A call begins at a bar line; keys still down from before are not part of it."""
        self.number += 1
        self.start_tick = start_tick
        self.start_ns = start_ns
        self.last_tick = float(start_tick)
        self._notes.clear()
        self._down.clear()
        self._bass_less_other = 0
        self.is_open = True

    def close(self) -> None:
        """Stop listening; the notes stay readable."""
        self.is_open = False

    @property
    def is_empty(self) -> bool:
        """True if nothing was played since the call began."""
        return not self._notes and not self._down

    @property
    def has_held(self) -> bool:
        """True while a note of the call is still down."""
        return bool(self._down)

    def press(
        self, key: SourceKey, tick: float, pitch: int, velocity: int, *, is_bass: bool = False
    ) -> None:
        """A note of the call begins; `is_bass`: it is played as a bass line."""
        self._bass_less_other += 1 if is_bass else -1
        self.release(key, tick)
        if len(self._notes) + len(self._down) < MAX_NOTES:
            self._down[key] = (tick, pitch, velocity)
        self.last_tick = tick

    def release(self, key: SourceKey, tick: float) -> None:
        """A note ends; keys that do not belong to the call are ignored."""
        held = self._down.pop(key, None)
        if held is not None:
            self._notes.append(self._note(held, tick))
            self.last_tick = tick

    def release_some(self, tick: float, source: int | None, channel: int | None) -> None:
        """Every note of a source and channel (None = of any) that is still down ends here."""
        for key in list(self._down):
            if source in (None, key[0]) and channel in (None, key[1]):
                self.release(key, tick)

    def call(
        self, bars: int, bar_ticks: int, now_tick: float, *, partial: bool, from_bar: int = 0
    ) -> Call:
        """The call so far; notes still down count as lasting until the call's end.

        Args:
            bars: length of the call.
            bar_ticks: ticks in a bar.
            now_tick: present position; held notes of a partial call are cut here.
            partial: True while the call goes on.
            from_bar: the bar of the song that the call's first bar is counted from.
        """
        end_tick = now_tick if partial else float(self.start_tick + bars * bar_ticks)
        held = [self._note(note, end_tick) for note in self._down.values()]
        ordered = sorted([*self._notes, *held], key=lambda n: (n.onset_ticks, n.pitch))
        first_bar = self.start_tick // bar_ticks - from_bar
        is_bass = self._bass_less_other > 0
        return Call(tuple(ordered), bars, first_bar, self.number, partial, is_bass)

    def view(self) -> list[tuple[int, int | None, int]]:
        """Notes as (onset, length or None while held, pitch) in ticks from the call's start."""
        done = [(n.onset_ticks, n.length_ticks, n.pitch) for n in self._notes]
        held = [(self._onset(tick), None, pitch) for tick, pitch, _ in self._down.values()]
        return [*done, *held]

    def _onset(self, tick: float) -> int:
        return max(0, round(tick) - self.start_tick)

    def _note(self, held: tuple[float, int, int], end_tick: float) -> PhraseNote:
        tick, pitch, velocity = held
        return PhraseNote(self._onset(tick), max(1, round(end_tick - tick)), pitch, velocity)
