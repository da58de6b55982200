"""Call and answer: where the form stands, what was called, what will be answered."""

from __future__ import annotations

from typing import Final, Literal

from live.clock.due import RANK_MARK, RANK_OFF, DueQueue
from live.clock.transport import Transport
from live.clock.units import TICKS_PER_BEAT, beats_to_ticks, ns_to_ticks
from live.notes.config import EngineConfig
from live.notes.events import Compose
from live.notes.facts import fact
from live.notes.form import BAR_COUNTS
from live.notes.listener import EARLY_TICKS, CallListener
from live.notes.offer import Offer
from live.notes.phrase import Brief, Call, Choice
from live.notes.player import AnswerPlayer, Due, Mark
from live.notes.record import Record
from live.theory.errors import FieldError

AnswerState = Literal["idle", "listening", "composing", "ready", "playing", "held"]
Output = Record | Compose
SourceKey = tuple[int, int, int]
"""(source, channel, pressed note): a key of a keyboard."""

MAX_FREE_BARS: Final = 8
"""A free call is cut here if the player never pauses (own choice: the longest form)."""


class Dialogue:
    """The life of calls and answers on the transport's grid.

    Args:
        config: the engine's settings; replaced whole by the engine.
        transport: where we are.
        due: the engine's queue; this class adds marks to it.
        player: sounds the answer.
    Thread: one owner (the engine's).
    """

    def __init__(
        self, config: EngineConfig, transport: Transport, due: DueQueue[Due], player: AnswerPlayer
    ) -> None:
        self.config = config
        self.listener = CallListener()
        self.offer = Offer()
        self.hold = False
        self.late = 0
        """Answers that did not come in time."""
        self.silent_rounds = 0
        """Rounds in a row in which nothing was called."""
        self.is_playing = False
        self.answer_start_tick = 0
        self._answer_end_tick = 0
        self._answer_number = 0
        self._call_end_tick = 0
        self._transport = transport
        self._due = due
        self._player = player

    @property
    def state(self) -> AnswerState:
        """What the answer is doing, in a word."""
        if self.is_playing:
            return "held" if self.hold else "playing"
        if self.offer.is_waiting:
            return "composing"
        if self.offer.fresh:
            return "ready"
        if self.listener.is_open and not self.listener.is_empty:
            return "listening"
        return "held" if self.hold else "idle"

    # The transport

    def begin(self, at_tick: float) -> None:
        """The transport plays from here: listen in the round that is running, or the next."""
        form = self.config.form
        if form.free:
            return
        bar_ticks = self.config.metre.bar_ticks
        bar = int(at_tick) // bar_ticks
        start = form.round_start_bar(bar)
        if form.part_at(bar)[0] == "answer":
            start += form.bars
        if start * bar_ticks >= at_tick:
            self._due.add(start * bar_ticks, RANK_MARK, Mark("call", 0))
        else:
            self._open_round(start * bar_ticks, int(at_tick))

    def halt(self, at_ns: int, out: list[Output]) -> None:
        """The transport stops or jumps: the answer ends at once, nothing stays queued."""
        self._silence(at_ns, out)
        if self.is_playing:
            self._end_answer(at_ns, out)
        self.offer.fresh = False
        self.offer.give_up_waiting()
        self._due.clear()
        self.listener.close()

    # The player's notes

    def press(
        self, key: SourceKey, at_ns: int, pitch: int, velocity: int, out: list[Output]
    ) -> None:
        """A note of the call zone begins while the transport plays."""
        tick = self._transport.ticks_at(at_ns)
        listener = self.listener
        if not listener.is_open and not self._open_early(tick):
            return
        if listener.is_empty:
            bar = listener.start_tick // self.config.metre.bar_ticks
            start_ns = self._transport.ns_at(listener.start_tick)
            out.append(fact("call", start_ns, number=listener.number, bar=bar))
        listener.press(key, tick, pitch, velocity)
        self.silent_rounds = 0

    def release(self, key: SourceKey, at_ns: int) -> None:
        """A key comes up."""
        if not self.listener.is_open:
            return
        tick = self._transport.ticks_at(at_ns)
        self.listener.release(key, tick)
        if self.config.form.free and not self.listener.has_held:
            pause = beats_to_ticks(self.config.silence_beats)
            self._due.add(int(tick) + pause, RANK_MARK, Mark("pause", self.listener.number))

    # The form's marks

    def mark(self, mark: Mark, tick: int, at_ns: int, out: list[Output]) -> None:
        """A mark is due at `tick`, which is `at_ns` on the clock."""
        if mark.name == "call":
            self._begin_round(tick)
        elif mark.name == "look":
            self._ask(tick, out, partial=True)
        elif mark.name == "cutoff":
            self._ask(tick, out, partial=False)
        elif mark.name == "answer":
            self._begin_answer(tick, at_ns, out)
        elif mark.name == "answer end":
            self._end_answer(at_ns, out)
        elif mark.name == "cut":
            self._silence(at_ns, out)
        elif mark.number == self.listener.number and self.listener.is_open:
            self._maybe_end_free_call(mark, tick, out)

    # The player's wishes

    def again(self, out: list[Output]) -> None:
        """Other choices for the last call, for the answer that plays or the next one."""
        out.append(self.offer.ask_again())

    def choose(self, rank: int, at_ns: int) -> None:
        """Take another choice; while an answer plays, from its next bar line on."""
        self.offer.choose(rank)
        if self.is_playing:
            self._swap(self._transport.ticks_at(at_ns))

    def keep(self, at_ns: int, out: list[Output]) -> None:
        """Mark the chosen answer as one to keep; FieldError when there is none."""
        if self.offer.choice is None:
            raise FieldError("keep", "once there is an answer", "no answer yet")
        number = self._answer_number
        out.append(fact("kept", at_ns, number=number, choice=self.offer.chosen))

    def composed(self, request: int, choices: tuple[Choice, ...], at_ns: int) -> None:
        """The composer's result has come in."""
        if self.offer.take(request, choices) and self.is_playing and not self.hold:
            self.offer.fresh = False
            self._swap(self._transport.ticks_at(at_ns))

    # Inside

    def _begin_round(self, tick: int) -> None:
        if self.listener.is_open and self.listener.start_tick == tick:
            return  # an early note has opened it
        self.silent_rounds += 1
        self._open_round(tick, tick)

    def _open_round(self, start_tick: int, now_tick: int) -> None:
        """Listen from a bar line on, and set the marks of this round that still lie ahead."""
        bar_ticks = self.config.metre.bar_ticks
        form = self.config.form
        end = start_tick + form.call_bars * bar_ticks
        self.listener.begin(start_tick)
        self._call_end_tick = end
        marks = [
            (end - min(bar_ticks, form.call_bars * bar_ticks // 2), "look"),
            (max(start_tick, end - self._cutoff_ticks()), "cutoff"),
            (end, "answer"),
            (start_tick + form.bars * bar_ticks, "call"),
        ]
        for at_tick, name in marks:
            if at_tick >= now_tick:
                self._due.add(at_tick, RANK_MARK, Mark(name, self.listener.number))

    def _open_early(self, tick: float) -> bool:
        """A note just before the next call's bar line, or in free form any, opens a call."""
        bar_ticks = self.config.metre.bar_ticks
        bar = int(tick + EARLY_TICKS) // bar_ticks
        if self.config.form.free:
            self.listener.begin(bar * bar_ticks)
            limit = self.listener.start_tick + MAX_FREE_BARS * bar_ticks
            self._due.add(limit, RANK_MARK, Mark("limit", self.listener.number))
            return True
        part, start = self.config.form.part_at(bar)
        if part == "call" and start * bar_ticks >= tick:
            self._open_round(start * bar_ticks, int(tick))
            return True
        return False

    def _maybe_end_free_call(self, mark: Mark, tick: int, out: list[Output]) -> None:
        """In free form a pause or the limit ends the call; the next bar line answers."""
        listener = self.listener
        pause = beats_to_ticks(self.config.silence_beats)
        paused = not listener.has_held and tick - listener.last_tick >= pause - 1
        if mark.name == "pause" and not paused:
            return
        bar_ticks = self.config.metre.bar_ticks
        ready = tick + self._cutoff_ticks()
        self._call_end_tick = -(-ready // bar_ticks) * bar_ticks
        self._ask(tick, out, partial=False)
        listener.close()
        self._due.add(self._call_end_tick, RANK_MARK, Mark("answer", listener.number))

    def _ask(self, tick: int, out: list[Output], *, partial: bool) -> None:
        """Ask the composer, unless there is nothing to answer or the answer is held."""
        config = self.config
        answer = config.answer
        if self.listener.is_empty or self.hold or not answer.enabled:
            return
        bar_ticks = config.metre.bar_ticks
        bars = (self._call_end_tick - self.listener.start_tick) // bar_ticks
        call = self.listener.call(bars, bar_ticks, tick, partial=partial)
        brief = Brief(
            call=call,
            key=config.key,
            answer_bars=self._answer_bars(call),
            metre=config.metre,
            progression=config.progression,
            groove=answer.groove,
            low=answer.low,
            high=answer.high,
            max_velocity=answer.max_velocity,
            choices=answer.choices,
            seed=answer.seed,
            tempo_bpm=self._transport.tempo_bpm,
        )
        out.append(self.offer.ask(brief))

    def _answer_bars(self, call: Call) -> int:
        """Fixed form: as set. Free form: about as long as what was played."""
        if not self.config.form.free:
            return self.config.form.answer_bars
        last = max(note.onset_ticks for note in call.notes)
        played = last // self.config.metre.bar_ticks + 1
        return min(bars for bars in BAR_COUNTS if bars >= min(played, BAR_COUNTS[-1]))

    def _begin_answer(self, tick: int, at_ns: int, out: list[Output]) -> None:
        """The answer's bar line: play what is there; what is not there in time stays empty."""
        called = not self.listener.is_empty
        self.listener.close()
        self.offer.give_up_waiting()
        choice = self.offer.choice
        if choice is not None and (self.hold or self.offer.fresh):
            self._play(choice, tick, at_ns, out)
        elif called and self.config.answer.enabled:
            self.late += 1
            out.append(fact("late", at_ns, number=self.listener.number))

    def _play(self, choice: Choice, tick: int, at_ns: int, out: list[Output]) -> None:
        bar_ticks = self.config.metre.bar_ticks
        brief = self.offer.brief
        bars = brief.answer_bars if brief else self.config.form.answer_bars
        self.offer.fresh = False
        self.is_playing = True
        self.answer_start_tick, self._answer_end_tick = tick, tick + bars * bar_ticks
        self._schedule(choice, tick)
        number = self._answer_number = self.listener.number
        self._due.add(self._answer_end_tick, RANK_MARK, Mark("answer end", number))
        detail = {"number": number, "bar": tick // bar_ticks, "choice": self.offer.chosen}
        out.append(fact("answer", at_ns, **detail, reasons=choice.reasons, words=choice.words))

    def _swap(self, now_tick: float) -> None:
        """Change to the chosen answer at the next bar line of the answer that plays."""
        choice = self.offer.choice
        bar_ticks = self.config.metre.bar_ticks
        bar_line = (int(now_tick) // bar_ticks + 1) * bar_ticks
        if choice is None or bar_line >= self._answer_end_tick:
            return
        self._player.unschedule(bar_line)
        self._due.add(bar_line, RANK_OFF, Mark("cut", self.listener.number))
        self._schedule(choice, bar_line)

    def _schedule(self, choice: Choice, from_tick: int) -> None:
        key = self.offer.brief.key if self.offer.brief else self.config.key
        self._player.schedule(choice, self.answer_start_tick, key, from_tick)

    def _end_answer(self, at_ns: int, out: list[Output]) -> None:
        self.is_playing = False
        out.append(fact("answer_end", at_ns, number=self._answer_number))

    def _silence(self, at_ns: int, out: list[Output]) -> None:
        records: list[Record] = []
        self._player.silence(at_ns, records)
        out.extend(records)

    def _cutoff_ticks(self) -> int:
        ticks = ns_to_ticks(self.config.answer.cutoff_ms * 1_000_000, self._transport.tempo_bpm)
        return min(round(ticks), 2 * TICKS_PER_BEAT)
