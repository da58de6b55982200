"""The engine: one step from an event to what leaves. No clock, port, thread or chance inside.

The state lives in the object and a step changes it in place: copying it for every note would
cost more than the note. The same events always give the same outputs.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from live.clock.due import DueQueue
from live.clock.transport import Transport
from live.notes.config import EngineConfig
from live.notes.dialogue import Dialogue, Output
from live.notes.events import (
    ANSWER,
    CLOCK_IN,
    CLOCK_SOURCE,
    KEYS_IN,
    THROUGH,
    Action,
    Change,
    Composed,
    Do,
    Event,
    MidiIn,
    SourceLost,
    Tick,
)
from live.notes.facts import changes, fact, silence_messages
from live.notes.harmony import Harmony
from live.notes.held import HeldLedger, Sounding
from live.notes.midi import (
    CLOCK,
    CONTINUE,
    NOTE_OFF,
    NOTE_ON,
    SONG_POSITION,
    START,
    STOP,
    SYSTEM_RESET,
    note_off,
)
from live.notes.player import STALE_TICKS, AnswerOff, AnswerOn, AnswerPlayer, Due, Mark
from live.notes.record import Record
from live.notes.router import Router
from live.theory.chords import Chord

SILENT_ROUNDS: Final = 2
"""A transport that a note started stops after this many rounds without a call (own choice)."""

NOTED_TEMPO_CHANGE_BPM: Final = 0.1
"""An outside tempo is noted anew when it has moved by more than this (own choice)."""


class Engine:
    """Everything between what comes in and what leaves.

    Args:
        config: the settings to begin with.
    Thread: one owner. Feed events in the order of their arrival.
    """

    def __init__(self, config: EngineConfig) -> None:
        self.config = config
        self.ledger = HeldLedger()
        self.transport = Transport(config.tempo_bpm)
        self.due: DueQueue[Due] = DueQueue()
        self.player = AnswerPlayer(self.due, self.ledger)
        self.player.channel = config.answer.channel
        self.router = Router(config, self.ledger)
        self.dialogue = Dialogue(config, self.transport, self.due, self.player)
        self.harmony = Harmony(config.progression, config.metre.bar_ticks)
        self.panics = 0
        self._started_by_note = False
        self._noted_tempo_bpm = config.tempo_bpm
        self._steps: dict[type[Any], Callable[[Any, list[Output]], None]] = {
            MidiIn: self._midi,
            Tick: self._nothing,
            Change: self._change,
            Do: self._do,
            Composed: self._composed,
            SourceLost: self._source_lost,
        }
        self._actions: dict[Action, Callable[[Do, list[Output]], None]] = {
            "start": lambda do, out: self._start(do.at_ns, out),
            "stop": lambda do, out: self._halt(do.at_ns, out),
            "again": lambda _, out: self.dialogue.again(out),
            "keep": lambda do, out: self.dialogue.keep(do.at_ns, out),
            "hold": lambda _do, _out: self._toggle_hold(),
            "panic": self._panic,
            "choose": lambda do, _: self.dialogue.choose(do.value, do.at_ns),
            "release": self._release,
        }

    def step(self, event: Event) -> list[Output]:
        """Do what is due up to the event's time, then the event.

        Returns: in order, records of what happened (kind `out` = a message to send on the
            record's port) and requests to the composer.
        Raises: FieldError when the player asks for what cannot be done; nothing has changed then.
        """
        out: list[Output] = []
        self._run_due(event.at_ns, out)
        self._steps[type(event)](event, out)
        return out

    def next_due_ns(self) -> int | None:
        """When the engine next wants a `Tick`; None = only when something comes in."""
        times = []
        tick = self.due.next_tick()
        if tick is not None and self.transport.playing:
            times.append(self.transport.ns_at(tick))
        deadline_ns = self.transport.clock_deadline_ns()
        if deadline_ns is not None:
            times.append(deadline_ns)
        return min(times, default=None)

    def chord_now(self, at_ns: int) -> Chord | None:
        """The chord of the progression at a time; None without a progression."""
        return self.harmony.chord_at(self.transport.ticks_at(at_ns))

    # Time

    def _run_due(self, now_ns: int, out: list[Output]) -> None:
        transport = self.transport
        if transport.check_clock(now_ns):
            out.append(fact("error", now_ns, what="the outside clock has gone; tempo kept"))
        while transport.playing:
            tick = self.due.next_tick()
            if tick is None or transport.ns_at(tick) > now_ns:
                break
            tick, item = self.due.pop()
            self._one_due(item, tick, now_ns, out)

    def _one_due(self, item: Due, tick: int, now_ns: int, out: list[Output]) -> None:
        at_ns = self.transport.ns_at(tick)
        records: list[Record] = []
        if isinstance(item, AnswerOff):
            self.player.end(item, at_ns, records)
        elif isinstance(item, AnswerOn):
            if self.transport.ticks_at(now_ns) - tick > STALE_TICKS:
                self.player.skipped += 1
            else:
                self.player.sound(item, at_ns, self.config.key, records)
        elif isinstance(item, Mark):
            self.dialogue.mark(item, tick, at_ns, out)
            if self._started_by_note and self.dialogue.silent_rounds > SILENT_ROUNDS:
                self._halt(at_ns, out)
        out.extend(records)

    # Events

    def _nothing(self, _event: Tick, _out: list[Output]) -> None:
        """A tick only lets time pass."""

    def _midi(self, event: MidiIn, out: list[Output]) -> None:
        at_ns, source, data = event
        if source == CLOCK_SOURCE:
            if self.config.follow_clock:
                self._clock_message(at_ns, data, out)
            return
        records = [Record(at_ns, "in", KEYS_IN, data)]
        kind = data[0] & 0xF0
        pressed = kind == NOTE_ON and data[2]
        if pressed:
            self._before_note(at_ns, data, out)
        elif data[0] == SYSTEM_RESET:
            self._release_everything(at_ns, out)
        began = self.router.route(at_ns, source, data, records)
        out.extend(records)
        if began is not None and self.transport.playing:
            key = (source, data[0] & 0x0F, data[1])
            self.dialogue.press(key, at_ns, began[0], began[1], out)
        elif not pressed and kind in (NOTE_ON, NOTE_OFF) and self.transport.playing:
            self.dialogue.release((source, data[0] & 0x0F, data[1]), at_ns)

    def _before_note(self, at_ns: int, data: bytes, out: list[Output]) -> None:
        """A note may start the transport, and needs to know the chord."""
        transport = self.transport
        if not transport.playing and self.config.start_on_first_note and self.router.is_call(data):
            waits_for_outside = transport.following and transport.clock_state() != "lost"
            if not waits_for_outside:
                self._start(at_ns, out)
                self._started_by_note = True
        if self.router.needs_chord:
            self.router.set_chord(self.chord_now(at_ns))

    def _clock_message(self, at_ns: int, data: bytes, out: list[Output]) -> None:
        status = data[0]
        transport = self.transport
        if status == CLOCK:
            if transport.clock_pulse(at_ns):
                self._started(at_ns, out)
            elif abs(transport.tempo_bpm - self._noted_tempo_bpm) > NOTED_TEMPO_CHANGE_BPM:
                self._note_tempo(at_ns, out)
        elif status in (START, CONTINUE):
            out.append(Record(at_ns, "in", CLOCK_IN, data))
            self._halt(at_ns, out)
            if status == START:
                transport.clock_start()
            else:
                transport.clock_continue()
        elif status == STOP:
            out.append(Record(at_ns, "in", CLOCK_IN, data))
            self._halt(at_ns, out)
            transport.clock_stop(at_ns)
        elif status == SONG_POSITION:
            out.append(Record(at_ns, "in", CLOCK_IN, data))
            transport.song_position(data[1] | data[2] << 7)

    def _note_tempo(self, at_ns: int, out: list[Output]) -> None:
        """The outside tempo has changed by enough to tell."""
        self._noted_tempo_bpm = self.transport.tempo_bpm
        if self.transport.playing:
            out.append(fact("tempo", at_ns, tempo=round(self._noted_tempo_bpm, 4)))

    def _change(self, event: Change, out: list[Output]) -> None:
        old, new, at_ns = self.config, event.config, event.at_ns
        self.config = new
        self.dialogue.config = new
        self.router.configure(new)
        self.player.channel = new.answer.channel
        self.harmony = Harmony(new.progression, new.metre.bar_ticks)
        if new.tempo_bpm != old.tempo_bpm and not self.transport.following:
            self.transport.set_tempo(at_ns, new.tempo_bpm)
        out.extend(changes(old, new, at_ns))
        moved = new.form != old.form or new.metre != old.metre
        if moved and self.transport.playing:
            self.dialogue.halt(at_ns, out)
            self.dialogue.begin(self.transport.ticks_at(at_ns))

    def _do(self, event: Do, out: list[Output]) -> None:
        self._actions[event.action](event, out)

    def _composed(self, event: Composed, _out: list[Output]) -> None:
        self.dialogue.composed(event.request, event.choices, event.at_ns)

    def _source_lost(self, event: SourceLost, out: list[Output]) -> None:
        _end_notes(event.at_ns, self.ledger.release_source(event.source), out)
        self.dialogue.listener.release_all(self.transport.ticks_at(event.at_ns))

    # The player's wishes

    def _start(self, at_ns: int, out: list[Output]) -> None:
        self._halt(at_ns, out)
        self.transport.start(at_ns)
        if self.transport.tempo_bpm != self.config.tempo_bpm:
            self.transport.set_tempo(at_ns, self.config.tempo_bpm)
        self._started(at_ns, out)

    def _started(self, at_ns: int, out: list[Output]) -> None:
        self._started_by_note = False
        self.dialogue.silent_rounds = 0
        tick = self.transport.ticks_at(at_ns)
        bar_ticks = self.config.metre.bar_ticks
        bar = int(tick) // bar_ticks
        beat = (tick - bar * bar_ticks) / self.config.metre.beat_ticks
        self._noted_tempo_bpm = self.transport.tempo_bpm
        tempo, metre = round(self._noted_tempo_bpm, 4), str(self.config.metre)
        out.append(fact("start", at_ns, bar=bar, beat=beat, tempo=tempo, metre=metre))
        self.dialogue.begin(tick)
        self._run_due(at_ns, out)

    def _halt(self, at_ns: int, out: list[Output]) -> None:
        """End what runs; the transport keeps its place and stands still."""
        if self.transport.playing:
            self.dialogue.halt(at_ns, out)
            self.transport.stop(at_ns)
            out.append(Record(at_ns, "stop"))

    def _toggle_hold(self) -> None:
        self.dialogue.hold = not self.dialogue.hold

    def _release(self, event: Do, out: list[Output]) -> None:
        self._halt(event.at_ns, out)
        self._release_everything(event.at_ns, out)

    def _panic(self, event: Do, out: list[Output]) -> None:
        """End every note that sounds, then tell the other side to fall silent."""
        self.panics += 1
        self._release_everything(event.at_ns, out)
        for port in (THROUGH, ANSWER):
            out.extend(Record(event.at_ns, "out", port, data) for data in silence_messages())
        out.append(Record(event.at_ns, "panic"))

    def _release_everything(self, at_ns: int, out: list[Output]) -> None:
        _end_notes(at_ns, self.ledger.release_all(), out)
        self.player.unschedule(0)
        self.dialogue.listener.release_all(self.transport.ticks_at(at_ns))


def _end_notes(at_ns: int, ended: list[Sounding], out: list[Output]) -> None:
    out.extend(Record(at_ns, "out", s.port, note_off(s.channel, s.note)) for s in ended)
