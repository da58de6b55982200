"""Starts and stops the transport, by the player or by MIDI clock, and tells of it."""

from __future__ import annotations

from collections.abc import Callable

from live.clock.tempo_line import TempoLine
from live.clock.transport import Transport
from live.clock.units import TICKS_PER_BEAT, TICKS_PER_SIXTEENTH
from live.notes.clock_out import ClockOut
from live.notes.config import EngineConfig
from live.notes.dialogue import Dialogue
from live.notes.events import CLOCK_IN, Output
from live.notes.facts import fact
from live.notes.midi import CLOCK, CONTINUE, SONG_POSITION, START, STOP
from live.notes.record import Record

Moved = Callable[[int, list[Output]], None]


class TransportControl:
    """The transport with all that hangs on its start and stop.

    Args:
        config: the engine's settings.
        transport: where we are.
        dialogue: begins and ends with it.
        moved: is called when the transport has started, before that is told; when it has stopped;
            and when a song position came in while it stands.
    Thread: one owner (the engine's).
    """

    def __init__(
        self,
        config: EngineConfig,
        transport: Transport,
        dialogue: Dialogue,
        moved: Moved = lambda _at_ns, _out: None,
    ) -> None:
        self._config = config
        self._moved = moved
        self._transport = transport
        self._dialogue = dialogue
        self._line = TempoLine()
        self._started_by_note = False
        self._beat = 0  # the last beat of an outside clock that was looked at
        self._told_of_others = False
        self.clock_out = ClockOut(transport)
        self.clock_out.switch(on=config.lead_clock)

    def start(self, at_ns: int, out: list[Output]) -> None:
        """Play from the song's start, or along with an outside clock that runs."""
        self.halt(at_ns, out)
        if not self._transport.join(at_ns):
            self._transport.start(at_ns)
        self._started(at_ns, out)

    def resume(self, at_ns: int, bar: int, out: list[Output]) -> None:
        """Play on by our own clock, or along with an outside clock that runs.

        `bar` counts from 1 and means its bar line; 0 = from the sixteenth where we stopped.
        """
        self.halt(at_ns, out)
        if not self._transport.join(at_ns):
            tick = self._transport.tick_at(at_ns) // TICKS_PER_SIXTEENTH * TICKS_PER_SIXTEENTH
            if bar:
                tick = (bar - 1) * self._config.metre.bar_ticks
            self._transport.start(at_ns, tick)
        self._started(at_ns, out)

    def start_by_note(self, at_ns: int, out: list[Output]) -> None:
        """A note of the call zone was played while we stand still: it may start the transport.

        While an outside clock is there but stopped, its start is waited for.
        """
        transport = self._transport
        waits = transport.following and not transport.outside_runs
        if self._config.start_on_first_note and not waits:
            self.start(at_ns, out)
            self._started_by_note = True

    def halt(self, at_ns: int, out: list[Output]) -> None:
        """End what runs; the transport keeps its place and stands still."""
        if self._transport.playing:
            self._dialogue.halt(at_ns, out)
            self._transport.stop(at_ns)
            out.append(Record(at_ns, "stop"))
            self.clock_out.stopped(at_ns, out)
            self._moved(at_ns, out)

    def halt_if_deserted(self, at_ns: int, out: list[Output]) -> None:
        """What a note started, ends when nobody plays any more."""
        if self._started_by_note and self._dialogue.is_deserted:
            self.halt(at_ns, out)

    def check_clock(self, now_ns: int, out: list[Output]) -> None:
        """Tell when the outside clock has gone while we play."""
        followed = self._transport.following
        if self._transport.check_clock(now_ns):
            out.append(fact("error", now_ns, what="the outside clock has gone; tempo kept"))
        elif followed and not self._transport.following:
            self._told_of_others = False
            if self.clock_out.was_echo():
                what = f"our own clock comes back on '{CLOCK_IN}'; it is not followed"
                out.append(fact("error", now_ns, what=what))

    def other_clock(self, at_ns: int, port: str, out: list[Output]) -> None:
        """A clock pulse came in where none is followed."""
        if self._transport.following and not self._told_of_others:
            self._told_of_others = True
            what = f"clock comes in on '{port}' too; only '{CLOCK_IN}' is followed"
            out.append(fact("error", at_ns, what=what))

    def configure(self, config: EngineConfig, at_ns: int, out: list[Output]) -> None:
        """Use new settings: the tempo, and whether an outside clock is followed."""
        old, self._config = self._config, config
        transport = self._transport
        tempo_bpm = transport.tempo_bpm
        if config.tempo_bpm != old.tempo_bpm:
            transport.set_tempo(at_ns, config.tempo_bpm)
        self.clock_out.switch(on=config.lead_clock)
        if transport.following and not config.follow_clock:
            transport.unfollow(at_ns)
            if transport.playing:
                self.clock_out.started(at_ns, out)
        if transport.tempo_bpm != tempo_bpm:
            out.append(fact("tempo", at_ns, tempo=transport.tempo_bpm))
            self._line.begin(at_ns, transport.ticks_at(at_ns), transport.tempo_bpm)

    def clock_message(self, at_ns: int, data: bytes, out: list[Output]) -> None:
        """A message on the clock input. Notes and the like mean nothing there."""
        if not self._config.follow_clock or self.clock_out.is_echo(at_ns, data):
            return
        if data[0] == CLOCK:
            self._pulse(at_ns, out)
        elif data[0] in (START, CONTINUE, STOP, SONG_POSITION):
            out.append(Record(at_ns, "in", CLOCK_IN, data))
            self._command(at_ns, data, out)

    def _command(self, at_ns: int, data: bytes, out: list[Output]) -> None:
        transport, status = self._transport, data[0]
        if status == SONG_POSITION:
            transport.song_position(data[1] | data[2] << 7)
            if not transport.playing:
                self._moved(at_ns, out)
        elif status == CONTINUE and transport.playing and transport.outside_runs:
            return  # it does already
        else:
            self.halt(at_ns, out)
            if status == START:
                transport.clock_start(at_ns)
            elif status == CONTINUE:
                transport.clock_continue(at_ns)
            else:
                transport.clock_stop(at_ns)

    def _pulse(self, at_ns: int, out: list[Output]) -> None:
        transport = self._transport
        began = transport.clock_pulse(at_ns)
        if transport.following and transport.is_crowded and not self._told_of_others:
            self._told_of_others = True
            followed = f"the one at {transport.tempo_bpm:.1f} BPM"
            what = f"two clocks come in on '{CLOCK_IN}'; {followed} is followed"
            out.append(fact("error", at_ns, what=what))
        if began:
            self._started(at_ns, out)
        elif transport.playing and transport.following:
            pulse_ns, tick = transport.pulse_position()
            if tick // TICKS_PER_BEAT > self._beat:  # its own pulse may have been lost
                self._beat = tick // TICKS_PER_BEAT
                for from_ns, tempo_bpm in self._line.beat(pulse_ns, tick, transport.tempo_bpm):
                    out.append(fact("tempo", from_ns, tempo=round(tempo_bpm, 4)))

    def _started(self, at_ns: int, out: list[Output]) -> None:
        self._started_by_note = False
        self._moved(at_ns, out)
        metre, transport = self._config.metre, self._transport
        bar = transport.tick_at(at_ns) // metre.bar_ticks
        beat = (transport.ticks_at(at_ns) - bar * metre.bar_ticks) / metre.beat_ticks
        tempo_bpm = round(transport.tempo_bpm, 4)
        detail = {"bar": bar, "beat": round(max(0.0, beat), 6)}
        out.append(fact("start", at_ns, **detail, tempo=tempo_bpm, metre=str(metre)))
        self._line.begin(at_ns, transport.ticks_at(at_ns), tempo_bpm)
        self._beat = transport.tick_at(at_ns) // TICKS_PER_BEAT
        self.clock_out.started(at_ns, out)
        self._dialogue.begin(transport.tick_at(at_ns))
