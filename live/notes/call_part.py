"""The call: when the player is listened to, and the marks of the form that hang on it."""

from __future__ import annotations

from typing import Final

from live.clock.due import RANK_MARK, DueQueue
from live.clock.transport import Transport
from live.clock.units import TICKS_PER_BEAT, beats_to_ticks, ns_to_ticks
from live.notes.config import EngineConfig
from live.notes.events import Output
from live.notes.facts import fact
from live.notes.listener import EARLY_TICKS, CallListener, SourceKey
from live.notes.player import Due, Mark, MarkName

MAX_FREE_BARS: Final = 8
"""A free call is cut here if the player never pauses (own choice: the longest form)."""

MAX_CUTOFF_TICKS: Final = 2 * TICKS_PER_BEAT
"""However fast the tempo, the composer gets no more of a call's end than two beats."""


class CallPart:
    """Opens and closes the listener on the transport's grid.

    Args:
        config: the engine's settings.
        transport: where we are.
        due: the engine's queue; this class adds marks to it.
    Thread: one owner (the engine's).
    """

    def __init__(self, config: EngineConfig, transport: Transport, due: DueQueue[Due]) -> None:
        self.config = config
        self.listener = CallListener()
        self.end_tick = 0
        """The bar line that ends the call and begins the answer; in free form once it is known."""
        self.silent_rounds = 0
        """Rounds in a row without a call; in free form a round is as long as the longest call."""
        self._counted_tick = 0  # where a round was last counted
        self._heard = False  # something was called in the round that runs
        self._pause_number = 0  # the free call whose pause is being waited for
        self._ended_number = 0  # the newest free call that has ended
        self._transport = transport
        self._due = due

    def begin(self, tick: int) -> None:
        """The transport plays from here: listen in the round that is running, or the next."""
        self.silent_rounds = 0
        self._heard = False
        self._counted_tick = tick
        self._begin(tick)

    def begin_section(self, tick: int) -> None:
        """A section's first bar line is reached while we play: a new round begins with it.

        The call that an early note has opened for it goes on.
        """
        if tick - self._counted_tick >= self.config.form.bars * self.config.metre.bar_ticks:
            self._count_round(tick)
        if self.listener.is_open and self.listener.start_tick == tick:
            self._mark_round(tick, tick)
        else:
            self.listener.close()
            self._begin(tick)

    def _begin(self, tick: int) -> None:
        form, bar_ticks = self.config.form, self.config.metre.bar_ticks
        if form.free:
            self._add(tick + MAX_FREE_BARS * bar_ticks, "rest")
            return
        first_bar = self.config.first_bar
        bar = tick // bar_ticks - first_bar
        start = form.round_start_bar(bar) + first_bar
        if form.part_at(bar)[0] == "answer":
            start += form.bars
        if start * bar_ticks > tick:
            self._add(start * bar_ticks, "call")
        else:
            self._open_round(start * bar_ticks, tick)

    def begin_round(self, tick: int) -> None:
        """A call's bar line is reached, in a fixed form."""
        if self.listener.is_open and self.listener.start_tick == tick:
            return  # an early note has opened it
        self._count_round(tick)
        self._open_round(tick, tick)

    def rest(self, tick: int) -> None:
        """Another long stretch of free form has gone by."""
        self._count_round(tick)
        self._add(tick + MAX_FREE_BARS * self.config.metre.bar_ticks, "rest")

    def press(
        self,
        key: SourceKey,
        at_ns: int,
        pitch: int,
        velocity: int,
        is_bass: bool,  # noqa: FBT001 - passed on from the router as it is
        out: list[Output],
    ) -> None:
        """A note of a call zone begins while the transport plays."""
        tick = self._transport.ticks_at(at_ns)
        listener = self.listener
        if not listener.is_open and not self._open_for(tick):
            return
        if listener.is_empty:
            bar = listener.start_tick // self.config.metre.bar_ticks
            out.append(fact("call", listener.start_ns, number=listener.number, bar=bar))
        listener.press(key, tick, pitch, velocity, is_bass=is_bass)
        self._heard = True

    def release(self, key: SourceKey, at_ns: int) -> None:
        """A key comes up."""
        if self.listener.is_open:
            self.listener.release(key, self._transport.ticks_at(at_ns))
            self._watch_pause()

    def release_some(
        self, at_ns: int, source: int | None = None, channel: int | None = None
    ) -> None:
        """Every key of a source and channel comes up (None = of any)."""
        if self.listener.is_open:
            self.listener.release_some(self._transport.ticks_at(at_ns), source, channel)
            self._watch_pause()

    def ends_here(self, mark: Mark, tick: int) -> bool:
        """True if a free call ends at its mark `pause` or `limit`; it is closed then."""
        listener = self.listener
        if not listener.is_open or mark.number != listener.number:
            return False
        if mark.name == "pause":
            self._pause_number = 0
            if listener.has_held or tick < listener.last_tick + self._pause_ticks() - 1:
                self._watch_pause()
                return False
        listener.close()
        bar_ticks = self.config.metre.bar_ticks
        bars = -(-(tick + self._lead_ticks()) // bar_ticks)
        self.end_tick = max(bars * bar_ticks, listener.start_tick + bar_ticks)
        self._ended_number = listener.number
        self._add(self.end_tick, "answer")
        return True

    def answer_begins(self, number: int) -> bool:
        """The bar line after call `number` is reached. Returns: whether it wants an answer.

        A free call that another one has followed in the meantime wants none.
        """
        if self.config.form.free:
            return number == self._ended_number
        self.listener.close()
        return not self.listener.is_empty

    def _count_round(self, tick: int) -> None:
        self._counted_tick = tick
        self.silent_rounds = 0 if self._heard else self.silent_rounds + 1
        self._heard = False

    def _open_round(self, start_tick: int, now_tick: int) -> None:
        """Listen from a bar line on, and set the marks of this round that still lie ahead."""
        self.listener.begin(start_tick, self._transport.ns_at(start_tick))
        self._mark_round(start_tick, now_tick)

    def _mark_round(self, start_tick: int, now_tick: int) -> None:
        bar_ticks, form = self.config.metre.bar_ticks, self.config.form
        call_ticks = form.call_bars * bar_ticks
        end = self.end_tick = start_tick + call_ticks
        look = end - min(bar_ticks, call_ticks // 2)
        cutoff = end - min(self._lead_ticks(), call_ticks // 2)
        marks: list[tuple[int, MarkName]] = [
            (cutoff, "cutoff"),
            (end, "answer"),
            (start_tick + form.bars * bar_ticks, "call"),
        ]
        if look < cutoff:
            marks.insert(0, (look, "look"))
        for at_tick, name in marks:
            if at_tick >= now_tick:
                self._add(at_tick, name)

    def _open_for(self, tick: float) -> bool:
        """A note opens a call: in free form always, else just before the call's bar line."""
        bar_ticks = self.config.metre.bar_ticks
        bar = int(tick + EARLY_TICKS) // bar_ticks
        if self.config.form.free:
            start = bar * bar_ticks
            self.listener.begin(start, self._transport.ns_at(start))
            self._add(start + MAX_FREE_BARS * bar_ticks - self._lead_ticks(), "limit")
            return True
        first_bar = self.config.first_bar
        part, part_bar = self.config.form.part_at(bar - first_bar)
        start = (part_bar + first_bar) * bar_ticks
        if bar == self.config.end_bar:  # the next section begins with a call
            part, start = "call", bar * bar_ticks
        if part == "call" and start >= tick:
            self._open_round(start, int(tick))
            return True
        return False

    def _watch_pause(self) -> None:
        """In free form, look again when a pause may have become long enough."""
        listener = self.listener
        watched = self._pause_number == listener.number
        if self.config.form.free and not listener.has_held and not watched:
            self._pause_number = listener.number
            self._add(int(listener.last_tick) + self._pause_ticks(), "pause")

    def _pause_ticks(self) -> int:
        return beats_to_ticks(self.config.silence_beats)

    def _lead_ticks(self) -> int:
        """How long before its bar line an answer is composed for good."""
        lead_ns = self.config.answer.cutoff_ms * 1_000_000
        return min(round(ns_to_ticks(lead_ns, self._transport.tempo_bpm)), MAX_CUTOFF_TICKS)

    def _add(self, tick: int, name: MarkName) -> None:
        self._due.add(tick, RANK_MARK, Mark(name, self.listener.number))
