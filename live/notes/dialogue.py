"""Call and answer: what was called, what the composer offers, what will be answered."""

from __future__ import annotations

from typing import Final

from live.clock.due import DueQueue
from live.clock.transport import Transport
from live.notes.answer_part import AnswerPart
from live.notes.briefing import write_brief
from live.notes.call_part import CallPart
from live.notes.config import EngineConfig
from live.notes.events import Action, Output
from live.notes.facts import fact
from live.notes.kept import keep
from live.notes.listener import CallListener
from live.notes.offer import Offer, Offered
from live.notes.phrase import AnswerState, Brief, Choice, PhraseNote
from live.notes.player import AnswerPlayer, Due, Mark
from live.theory.errors import FieldError

SILENT_ROUNDS: Final = 2
"""After this many rounds without a call nobody seems to be there (own choice)."""


class Dialogue:
    """The life of calls and answers on the transport's grid.

    Args:
        config: the engine's settings.
        transport: where we are.
        due: the engine's queue.
        player: sounds the answer.
    Thread: one owner (the engine's).
    """

    def __init__(
        self, config: EngineConfig, transport: Transport, due: DueQueue[Due], player: AnswerPlayer
    ) -> None:
        self.config = config
        self.calls = CallPart(config, transport, due)
        self.offer = Offer()
        self.part = AnswerPart(due, player)
        self.hold = False
        self.late = 0
        """Answers that did not come in time."""
        self._transport = transport
        self._due = due

    @property
    def listener(self) -> CallListener:
        """What the player is calling."""
        return self.calls.listener

    @property
    def is_playing(self) -> bool:
        """True while an answer plays."""
        return self.part.is_playing

    @property
    def answer_start_tick(self) -> int:
        """First bar line of the answer that plays, or played last."""
        return self.part.start_tick

    @property
    def is_deserted(self) -> bool:
        """True when nobody has called for long, and no answer is held to be played to."""
        return self.calls.silent_rounds >= SILENT_ROUNDS and not self.hold

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

    # The transport and the settings

    def begin(self, tick: int) -> None:
        """The transport plays from here."""
        self.calls.begin(tick)

    def halt(self, at_ns: int, out: list[Output]) -> None:
        """The transport stops or jumps: the answer ends at once, nothing stays queued."""
        self.part.stop(at_ns, out)
        self.offer.fresh = False
        self.offer.give_up_waiting()
        self._due.clear()
        self.listener.close()

    def configure(self, config: EngineConfig, at_ns: int, out: list[Output]) -> None:
        """Use new settings.

        Another form or metre begins a new round where we are; other controls of the answer are
        heard at once, on the answer to the last call, unless it is held.
        """
        old = self.config
        self.config = self.calls.config = config
        if self._transport.playing and (config.form, config.metre) != (old.form, old.metre):
            self.halt(at_ns, out)
            self.begin(self._transport.tick_at(at_ns))
        elif not config.answer.enabled:
            self.part.stop(at_ns, out)
        elif config.answer != old.answer and self.offer.last is not None and not self.hold:
            self._ask_anew(self.offer.last, self.offer.last.seed, out)

    def use(self, config: EngineConfig) -> None:
        """Use settings of the same form and metre; what plays is left alone."""
        self.config = self.calls.config = config

    def begin_section(self, config: EngineConfig, tick: int, at_ns: int, out: list[Output]) -> None:
        """A section's first bar line is reached while we play: it begins with a call.

        In a fixed form the section before takes its answer and its unanswered call with it. In free
        form both go on: what is played over the line is one phrase.
        """
        was_free = self.config.form.free
        self.use(config)
        if was_free and config.form.free:
            return
        self.part.stop(at_ns, out)
        self.offer.fresh = False
        self.offer.give_up_waiting()
        self._due.clear()
        self.calls.begin_section(tick)

    # The form's marks

    def mark(self, mark: Mark, tick: int, at_ns: int, out: list[Output]) -> None:
        """A mark is due at `tick`, which is `at_ns` on the clock."""
        match mark.name:
            case "call":
                self.calls.begin_round(tick)
            case "rest":
                self.calls.rest(tick)
            case "look":
                self._ask(tick, out, partial=True)
            case "cutoff":
                self._ask(tick, out, partial=False)
            case "pause" | "limit":
                if self.calls.ends_here(mark, tick):
                    self._ask(tick, out, partial=False)
            case "answer":
                self._begin_answer(mark.number, tick, at_ns, out)
            case "answer end":
                self.part.end(mark.number, at_ns, out)
            case "cut":
                self.part.cut(at_ns, out)

    # The player's wishes

    def check(self, action: Action, value: int) -> None:
        """Raise FieldError if the player asks for what cannot be done now."""
        if action == "again":
            self._last_brief()
        elif action in ("keep", "more"):
            self._current(action)
        elif action == "choose":
            self.offer.find(value)

    def again(self, out: list[Output]) -> None:
        """Other choices for the last call, for the answer that plays or the next one."""
        last = self._last_brief()
        self._ask_anew(last, last.seed + 1, out)

    def more(self, out: list[Output]) -> None:
        """Others like the chosen answer, for the answer that plays or the next one."""
        choice, brief = self._current("more")
        seed = self._last_brief().seed + 1
        self._ask_anew(brief, seed, out, choice.notes)

    def choose(self, rank: int, at_ns: int) -> None:
        """Take another choice: from the next bar line of its answer on, or as the next answer."""
        self._swap(self.offer.choose(rank), at_ns)

    def keep(self, at_ns: int, out: list[Output]) -> None:
        """Mark the chosen answer as one to keep; FieldError when there is none."""
        choice, brief = self._current("keep")
        number = brief.call.number if self.offer.fresh else self.part.number
        phrase = keep(choice.notes, brief.key, brief.metre).to_data()
        out.append(fact("kept", at_ns, number=number, choice=self.offer.chosen, phrase=phrase))

    def toggle_hold(self) -> None:
        """Play this answer every time, or no longer; what is still being composed is not it."""
        self.hold = not self.hold
        if self.hold and self.offer.choice is not None:
            self.offer.give_up_waiting()

    def composed(self, request: int, choices: tuple[Choice, ...], at_ns: int) -> None:
        """The composer's result has come in."""
        offered = self.offer.take(request, choices)
        if offered is not None:
            self._swap(offered, at_ns)

    # Inside

    def _last_brief(self) -> Brief:
        if self.offer.last is None:
            raise FieldError("again", "after a first call", "no call yet")
        return self.offer.last

    def _ask_anew(
        self, last: Brief, seed: int, out: list[Output], like: tuple[PhraseNote, ...] = ()
    ) -> None:
        """Other answers to the same call, under the settings of now; near `like`, if given."""
        brief = write_brief(last.call, self.config, self._transport.tempo_bpm, seed, like)
        out.append(self.offer.ask(brief, wished=True))

    def _current(self, action: str) -> Offered:
        if self.offer.current is None:
            raise FieldError(action, "once there is an answer", "no answer yet")
        return self.offer.current

    def _ask(self, tick: int, out: list[Output], *, partial: bool) -> None:
        """Ask the composer, unless there is nothing to answer or an answer is held."""
        config, listener = self.config, self.listener
        held = self.hold and self.offer.choice is not None
        if listener.is_empty or held or not config.answer.enabled:
            return
        bar_ticks = config.metre.bar_ticks
        bars = (self.calls.end_tick - listener.start_tick) // bar_ticks
        if not config.form.free and self._cut(self.calls.end_tick + 1) <= self.calls.end_tick:
            return  # the section ends before there would be an answer
        call = listener.call(bars, bar_ticks, tick, partial=partial, from_bar=config.first_bar)
        brief = write_brief(call, config, self._transport.tempo_bpm, config.answer.seed)
        out.append(self.offer.ask(brief))

    def _begin_answer(self, number: int, tick: int, at_ns: int, out: list[Output]) -> None:
        """The answer's bar line: play what is there; what is not there in time stays empty."""
        called = self.calls.answer_begins(number)
        if not called and self.config.form.free:
            return
        self.offer.give_up_waiting()
        if not self.config.answer.enabled:
            return
        current = self.offer.current
        if current is not None and (self.hold or self.offer.fresh):
            self._play(current, number, tick, at_ns, out)
        elif called:
            self.late += 1
            out.append(fact("late", at_ns, number=number))

    def _play(
        self, offered: Offered, number: int, tick: int, at_ns: int, out: list[Output]
    ) -> None:
        form, bar_ticks = self.config.form, self.config.metre.bar_ticks
        bars = offered.brief.answer_bars
        if not form.free:
            bars = min(bars, form.answer_bars)  # a held answer may be longer
        self.part.stop(at_ns, out)  # in free form an earlier one may still play
        end_tick = tick + bars * bar_ticks
        if not form.free:
            end_tick = self._cut(end_tick)
        self.part.begin(offered, number, tick, end_tick)
        self.offer.fresh = False
        detail = {"number": number, "bar": tick // bar_ticks, "choice": self.offer.chosen}
        choice = offered.choice
        out.append(fact("answer", at_ns, **detail, reasons=choice.reasons, words=choice.words))

    def _cut(self, tick: int) -> int:
        """`tick`, or the section's end if that comes first."""
        end_bar = self.config.end_bar
        return tick if end_bar is None else min(tick, end_bar * self.config.metre.bar_ticks)

    def _swap(self, offered: Offered, at_ns: int) -> None:
        """If its call's answer plays, go on with this one from the next bar line."""
        bar_ticks = self.config.metre.bar_ticks
        bar_line = (self._transport.tick_at(at_ns) // bar_ticks + 1) * bar_ticks
        if self.part.swap(offered, bar_line):
            self.offer.fresh = False
