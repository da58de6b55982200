"""The engine: one step from an event to what leaves. No clock, port, thread or chance inside.

The state lives in the object and a step changes it in place: copying it for every note would
cost more than the note. The same events always give the same outputs.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from live.clock.due import DueQueue
from live.clock.transport import Transport
from live.notes.config import EngineConfig
from live.notes.cue_part import CuePart
from live.notes.dialogue import Dialogue
from live.notes.dictation import Dictation
from live.notes.ear import Ear
from live.notes.events import (
    CLOCK_SOURCE,
    KEYS_IN,
    RETURN,
    RETURN_SOURCE,
    Action,
    Change,
    Composed,
    Dictate,
    Do,
    Event,
    Jump,
    Learn,
    MidiIn,
    Output,
    SourceLost,
    Tick,
)
from live.notes.facts import changes, fact
from live.notes.harmony import Harmony
from live.notes.held import HeldLedger
from live.notes.light_echo import LightEcho
from live.notes.loop_guard import LoopGuard
from live.notes.midi import CLOCK, CONTROL_CHANGE, NOTE_OFF, NOTE_ON, SYSTEM_RESET, ends_notes
from live.notes.player import AnswerOff, AnswerOn, AnswerPlayer, Due
from live.notes.record import Record
from live.notes.router import Router
from live.notes.sensing import SensingWatch
from live.notes.song_control import SongControl
from live.notes.song_part import SongPart
from live.notes.transport_control import TransportControl
from live.notes.wishes import Act, Wishes
from live.theory.chords import Chord
from live.theory.errors import FieldError


class Engine:
    """Everything between what comes in and what leaves.

    Args:
        config: the settings to begin with.
    Thread: one owner. Feed events in the order of their arrival.
    """

    def __init__(self, config: EngineConfig) -> None:
        part = SongPart(config)
        self.config = config = part.in_force
        """The settings in force: those of the section that runs, if there is a song plan."""
        self.cues = CuePart()
        self.cues.watch.configure(config.cues)
        self.ledger = HeldLedger()
        self.transport = Transport(config.tempo_bpm)
        self.due: DueQueue[Due] = DueQueue()
        self.player = AnswerPlayer(self.due, self.ledger)
        self.player.channel = config.answer.channel
        self.ear = Ear(self.transport)
        self.router = Router(config, self.ledger, self.ear)
        self.dialogue = Dialogue(config, self.transport, self.due, self.player)
        self.song = SongControl(part, self.transport, self.due, self.dialogue, self._use)
        self.dictation = Dictation(self.transport, self.player, self.ledger)
        self.control = TransportControl(config, self.transport, self.dialogue, self._moved)
        self.sensing = SensingWatch()
        self.guard = LoopGuard(config.routes)
        self.light_echo = LightEcho()
        self.harmony = Harmony(config.progression, config.metre.bar_ticks, config.first_bar)
        others: dict[Action, Act] = {
            "panic": self._panic,
            "lights": lambda _do, _out: self.light_echo.draw_again(),
            "release": self._release,
        }
        self.wishes = Wishes(self.control, self.dialogue, self.dictation, others)
        self.panics = 0
        self._steps = self._steps_by_event()

    def _steps_by_event(self) -> dict[type[Any], Callable[[Any, list[Output]], None]]:
        """What an event of each kind does."""
        return {
            MidiIn: self._midi,
            Tick: lambda _tick, _out: None,  # it only lets time pass
            Change: self._change,
            Do: self.wishes.do,
            Jump: self.song.jump,
            Learn: lambda event, _: self.cues.watch.learn(event.wish),
            Composed: lambda new, _: self.dialogue.composed(new.request, new.choices, new.at_ns),
            Dictate: self.dictation.dictate,
            SourceLost: self._source_lost,
        }

    def step(self, event: Event) -> list[Output]:
        """Do what is due up to the event's time, then the event.

        Returns: in order, records of what happened (kind `out` = a message to send on the
            record's port) and requests to the composer.
        Raises: FieldError when the player asks for what cannot be done; nothing has changed then.
        """
        if type(event) is Do:
            self.wishes.check(event)
        out: list[Output] = []
        self._run_due(event.at_ns, out)
        self._steps[type(event)](event, out)
        if out:
            self.guard.sent(event.at_ns, out)
        return out

    def next_due_ns(self) -> int | None:
        """When the engine next wants a `Tick`; None = only when something comes in."""
        times = [
            self.transport.clock_deadline_ns(),
            self.sensing.deadline_ns(),
            self.control.clock_out.due_ns(),
            self.dictation.due_ns,
        ]
        tick = self.due.next_tick()
        if tick is not None and self.transport.playing:
            times.append(self.transport.ns_at(tick))
        return min((at_ns for at_ns in times if at_ns is not None), default=None)

    def chord_now(self, at_ns: int) -> Chord | None:
        """The chord of the progression at a time; None without a progression."""
        return self.harmony.chord_at(self.transport.tick_at(at_ns))

    # Time

    def _run_due(self, now_ns: int, out: list[Output]) -> None:
        transport = self.transport
        self.control.check_clock(now_ns, out)
        self.control.clock_out.run(now_ns, out)
        if self.dictation.due_ns is not None:
            self.dictation.run(now_ns, out)
        for source in self.sensing.take_silent(now_ns):
            self._let_go(now_ns, source, out)
        while transport.playing:
            tick = self.due.next_tick()
            if tick is None or transport.ns_at(tick) > now_ns:
                break
            tick, item = self.due.pop()
            self._one_due(item, tick, now_ns, out)

    def _one_due(self, item: Due, tick: int, now_ns: int, out: list[Output]) -> None:
        at_ns = self.transport.ns_at(tick)
        if isinstance(item, AnswerOff):
            self.player.end(item, at_ns, out)
        elif isinstance(item, AnswerOn):
            late_ticks = self.transport.ticks_at(now_ns) - tick
            self.player.sound(item, at_ns, late_ticks, self.config.key, out)
        elif item.name == "section":
            self.song.mark(item.number, tick, at_ns, out)
            self.control.halt_if_deserted(at_ns, out)
        else:
            self.dialogue.mark(item, tick, at_ns, out)
            self.control.halt_if_deserted(at_ns, out)

    def _moved(self, at_ns: int, out: list[Output]) -> None:
        self.dictation.moved(at_ns, out)
        self.song.moved(at_ns, out)

    # Events

    def _midi(self, event: MidiIn, out: list[Output]) -> None:
        at_ns, source, data = event
        if source == CLOCK_SOURCE:
            self.control.clock_message(at_ns, data, out)
            return
        status = data[0]
        self.sensing.hear(at_ns, source, status)
        if self._comes_back(event, out) or (self.cues.watch.on and self._is_cue(event, out)):
            return
        kind = status & 0xF0
        if kind == NOTE_ON and data[2]:
            self._note_on(event, out)
            return
        port = _port(source)
        out.append(Record(at_ns, "in", port, data))
        if status == CLOCK:
            self.control.other_clock(at_ns, port, out)
        if status == SYSTEM_RESET:
            self._release_everything(at_ns, out)
        self.router.route(at_ns, source, data, out)
        if kind in (NOTE_ON, NOTE_OFF):
            self.dialogue.calls.release((source, status & 0x0F, data[1]), at_ns)
        elif kind == CONTROL_CHANGE and ends_notes(data):
            for channel in self.router.zone_of(source, status & 0x0F):
                self.dialogue.calls.release_some(at_ns, source, channel)

    def _comes_back(self, event: MidiIn, out: list[Output]) -> bool:
        """True if this is our own message that came in again, and is to be dropped."""
        at_ns, source, data = event
        is_echo = False
        for guard in (self.light_echo, self.guard):
            is_echo = is_echo or guard.is_echo(at_ns, source, data)
            if guard.found(source):
                what = f"{guard.WHAT} on '{_port(source)}' (input {source}); it is cut there"
                out.append(fact("error", at_ns, what=what))
                self._let_go(at_ns, source, out)
                return True
        return is_echo

    def _note_on(self, event: MidiIn, out: list[Output]) -> None:
        """A note may start the transport, and needs to know the chord."""
        at_ns, source, data = event
        transport = self.transport
        if not transport.playing and self.router.is_call(source, data):
            self.control.start_by_note(at_ns, out)
        if self.router.needs_chord:
            self.router.set_chord(self.chord_now(at_ns))
        out.append(Record(at_ns, "in", _port(source), data))
        began = self.router.route(at_ns, source, data, out)
        if began is not None and transport.playing:
            key = (source, data[0] & 0x0F, data[1])
            self.dialogue.calls.press(key, at_ns, *began, out)

    def _is_cue(self, event: MidiIn, out: list[Output]) -> bool:
        """True if a message is a cue: what it asks for is done, and it is not heard."""
        if not self.router.may_be_cue(event.source, event.data):
            return False
        asked = self.cues.hear(event, self.song.part.base, out)
        if asked is None:
            return False
        for wish in asked:
            try:
                if isinstance(wish, Do):
                    self.wishes.check(wish)
                self._steps[type(wish)](wish, out)
            except FieldError as error:
                out.append(fact("error", event.at_ns, what=str(error)))
        return True

    def _change(self, event: Change, out: list[Output]) -> None:
        if event.cue is not None and event.cue < self.cues.number:
            return  # made before the last cue was known; what knows it is on its way
        if event.config.cues != self.song.part.base.cues:
            self.cues.watch.configure(event.config.cues)
        self.song.change(event, out)

    def _use(self, new: EngineConfig, at_ns: int, out: list[Output]) -> None:
        """Other settings are in force from here; the dialogue is told by whoever calls."""
        old, self.config = self.config, new
        self.router.configure(new, at_ns, out)
        self.guard.configure(new.routes)
        self.player.channel = new.answer.channel
        if new.key != old.key:
            self.ear.reset()
        self.harmony = Harmony(new.progression, new.metre.bar_ticks, new.first_bar)
        out.extend(changes(old, new, at_ns))
        self.control.configure(new, at_ns, out)

    def _source_lost(self, event: SourceLost, out: list[Output]) -> None:
        self.guard.forget(event.source)
        self.cues.watch.forget(event.source)
        self.light_echo.forget(event.source)
        self._let_go(event.at_ns, event.source, out)

    # Releasing

    def _let_go(self, at_ns: int, source: int, out: list[Output]) -> None:
        """An input has gone: its keys and pedals come up."""
        self.router.let_go(at_ns, source, out)
        self.dialogue.calls.release_some(at_ns, source)

    def _release(self, event: Do, out: list[Output]) -> None:
        self.control.halt(event.at_ns, out)
        self._release_everything(event.at_ns, out)

    def _panic(self, event: Do, out: list[Output]) -> None:
        """End every note that sounds, then tell the other side to fall silent."""
        self.panics += 1
        self.light_echo.draw_again()
        self._release_everything(event.at_ns, out)
        self.router.silence(event.at_ns, out)
        out.append(Record(event.at_ns, "panic"))

    def _release_everything(self, at_ns: int, out: list[Output]) -> None:
        self.dictation.silence(at_ns, out)
        self.router.let_everything_go(at_ns, out)
        self.player.unschedule(0)
        self.dialogue.calls.release_some(at_ns)


def _port(source: int) -> str:
    """The port that an input's messages are told under."""
    return RETURN if source == RETURN_SOURCE else KEYS_IN
