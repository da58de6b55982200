"""The engine's loop: take from the inbox or wait for what is due, step, send, report.

No file, socket, JSON parsing or logging happens here; reports go into a queue that another thread
empties, and a slow reader never holds this loop up.
"""

from __future__ import annotations

import gc
from collections import deque
from collections.abc import Callable
from queue import Empty, SimpleQueue
from typing import Any, Final

from live.clock.clock import Clock
from live.clock.units import NS_PER_S
from live.daemon.engine_view import engine_view
from live.daemon.lamps import Lamps
from live.daemon.loose_ends import LooseEnds
from live.daemon.rack import Packet, Rack
from live.notes.config import EngineConfig
from live.notes.engine import Engine
from live.notes.events import (
    ANSWER,
    LIGHTS,
    RETURN_SOURCE,
    THROUGH,
    Compose,
    Do,
    Event,
    MidiIn,
    Output,
    SourceLost,
    Tick,
)
from live.notes.facts import silence_messages
from live.notes.held import Sounding
from live.notes.midi import note_off
from live.notes.record import Record
from live.notes.split import Cleaner
from live.theory.errors import FieldError

VIEW_EVERY_NS: Final = NS_PER_S // 30
"""Faces look at most 30 times a second."""
LONGEST_WAIT_NS: Final = NS_PER_S // 10
"""The loop comes round at least this often, so that it is seen to live."""
LONGEST_TURN_NS: Final = NS_PER_S // 2
LONGEST_OPENING_NS: Final = 25 * NS_PER_S
"""A loop that has not come round for so long hangs; while there are no ports, and services are
asked that do not answer, it may take the longer time."""
_IDLE_NS: Final = 2 * NS_PER_S
_LATENESS_KEPT: Final = 1024

Report = tuple[Any, ...]
"""What goes up: ("records", [...]), ("compose", n, brief), ("view", ...), ("ports", ...), ..."""


class EngineLoop:
    """Runs an engine on real or hand-driven time.

    Args:
        config: the engine's settings.
        clock: tells the time.
        make_rack: makes the rack, given where packets go.
        report: takes reports; must return at once.
    Thread: one; packets and commands come through `inbox` from any thread.
    """

    def __init__(
        self,
        config: EngineConfig,
        clock: Clock,
        make_rack: Callable[[Callable[[Packet], None]], Rack],
        report: Callable[[Report], None],
    ) -> None:
        self.engine = Engine(config)
        self.inbox: SimpleQueue[Packet | Report] = SimpleQueue()
        self.turn_ns = 0
        """When the loop last came round; written here, read by whoever checks its health."""
        self._opening = False
        self.failures = 0
        """Steps that failed by a fault of ours; the message went through unchanged."""
        self._clock = clock
        self._rack = make_rack(self.inbox.put)
        self._lamps = Lamps(self.engine, self._rack.outlets)
        self._report = report
        self._cleaners: dict[int, Cleaner] = {}
        self._lateness_ns: deque[int] = deque(maxlen=_LATENESS_KEPT)
        self._late_ms_p99 = 0.0
        self._lateness_is_new = False
        self._view_due_ns = 0
        self._view_wanted = True
        self._last_event_ns = 0
        self._tended_ns = 0
        self._loose_ends = LooseEnds(self.engine.router.receivers.would_end)
        self._left: dict[str, list[Sounding]] = {}
        self._running = True
        self.service_died = False
        """True once the MIDI service is gone: only a new process can reach it again."""

    def run(self) -> None:
        """Loop until told to quit, then release every note and close the ports."""
        self._look()
        while self._running:
            self.turn(self._wait_s())
        if not self.service_died:
            self._quit()

    def turn(self, wait_s: float) -> None:
        """One round: at most one item from the inbox, then what is due."""
        try:
            item = self.inbox.get(timeout=wait_s) if wait_s > 0 else self.inbox.get_nowait()
        except Empty:
            item = None
        now_ns = self.turn_ns = self._clock.now_ns()
        if item is not None:
            if type(item[0]) is int:
                self._packet(item)
            else:
                self._command(item, now_ns)
        # Under a flood the inbox is never empty: what can wait still gets its turn.
        if item is None or now_ns - self._tended_ns > LONGEST_WAIT_NS:
            self._tended_ns = now_ns
            self._tend(now_ns)

    # What comes in

    def _packet(self, packet: Packet) -> None:
        at_ns, source, data = packet
        self._last_event_ns = at_ns
        self._view_wanted = True
        cleaner = self._cleaners.get(source)
        if cleaner is None:
            cleaner = self._cleaners[source] = Cleaner()
        for message in cleaner.feed(data):
            self._step(MidiIn(at_ns, source, message))

    def _command(self, item: Report, now_ns: int) -> None:
        kind = item[0]
        if kind == "quit":
            self._running = False
        elif kind == "release":
            self._loose_ends.add(item[1])
            self._look()
        else:
            _, ident, event = item
            try:
                self._step(event._replace(at_ns=now_ns), refusable=True)
            except FieldError as error:
                self._report(("refused", ident, str(error)))
            else:
                self._show(now_ns)  # whoever asked sees the effect at once
                self._report(("done", ident))

    def _step(self, event: Event, *, refusable: bool = False) -> None:
        try:
            outputs = self.engine.step(event)
        except FieldError:
            if refusable:
                raise
            return
        except Exception as error:  # noqa: BLE001 - a fault of ours must not silence the player
            self._fault(event, error)
            return
        if outputs:
            self._send(outputs)
            kept = [output for output in outputs if output[1] != "pulse"]
            if kept:
                self._report(("records", kept))
                self._view_wanted = True

    def _send(self, outputs: list[Output]) -> None:
        """Send the messages among the outputs, and tell the composer what it is asked."""
        outlets = self._rack.outlets
        for output in outputs:
            if type(output) is Compose:
                self._report(("compose", output.request, output.brief))
            elif output[1] in ("out", "pulse"):
                outlet = outlets.get(output[2])
                if outlet is not None:
                    outlet.send(output[3])
                    if output[2] == ANSWER:
                        self._lateness_ns.append(self._clock.now_ns() - output[0])
                        self._lateness_is_new = True

    def _fault(self, event: Event, error: Exception) -> None:
        """The engine failed on an event: a message goes through as it came, and it is told."""
        self.failures += 1
        if isinstance(event, MidiIn) and event.source != RETURN_SOURCE:  # it would go round
            outlet = self._rack.outlets.get(THROUGH)
            if outlet is not None:
                outlet.send(event.data)
        elif isinstance(event, Do) and event.action in ("panic", "release"):
            self._release(_ends(self.engine.ledger.release_all()), event.at_ns)
        if self.failures <= 3:
            self._report(("problem", f"a fault in the engine, notes pass unsnapped: {error!r}"))

    # Time

    def _wait_s(self) -> float:
        now_ns = self._clock.now_ns()
        until_ns = min(now_ns + LONGEST_WAIT_NS, self._rack.next_wish_ns())
        due_ns = self.engine.next_due_ns()
        if due_ns is not None:
            until_ns = min(until_ns, due_ns)
        if self._view_wanted or self.engine.transport.playing:
            until_ns = min(until_ns, self._view_due_ns)
        if self._lamps.waits:
            return 0.0
        return (until_ns - now_ns) / NS_PER_S

    def _tend(self, now_ns: int) -> None:
        """What is due comes first, then what can wait."""
        due_ns = self.engine.next_due_ns()
        if due_ns is not None and due_ns <= now_ns:
            self._step(Tick(now_ns))
        if now_ns >= self._view_due_ns and (self._view_wanted or self.engine.transport.playing):
            self._show(now_ns)
        if self._lamps.waits:
            self._lamps.send(now_ns)
        self._tie_up(now_ns)
        self.engine.song.part.maps.make_one()
        if not self._rack.lives(now_ns):
            self._report(("problem", "the MIDI service has died; Undersong waits for it"))
            self.service_died, self._running = True, False
        elif self._rack.wants_look(now_ns):
            self._look()
        if not self.engine.transport.playing and now_ns - self._last_event_ns > _IDLE_NS:
            self._last_event_ns = now_ns
            gc.collect()

    def is_well(self, now_ns: int) -> bool:
        """False if the loop has not come round for too long. Thread: any."""
        limit_ns = LONGEST_OPENING_NS if self._opening else LONGEST_TURN_NS
        return now_ns - self.turn_ns <= limit_ns

    def _look(self) -> None:
        had = set(self._rack.outlets)
        self._opening = not had  # to reach a service takes its time, above all in vain
        try:
            changed, lost = self._rack.look(self._clock.now_ns())
        finally:
            self._opening = False
        self._outputs_changed(had)
        for source in lost:
            self._step(SourceLost(self._clock.now_ns(), source))
        if changed:
            self._report(("ports", *self._rack.views()))
            self._view_wanted = True
        self._tie_up(self._clock.now_ns())

    def _outputs_changed(self, had: set[str]) -> None:
        """An output that comes back may still hold what it held when it went: end that."""
        outlets, ledger = self._rack.outlets, self.engine.ledger
        if (LIGHTS in had) != (LIGHTS in outlets):
            self._lamps.port_changed(self._clock.now_ns())
        for role in had - outlets.keys() - {LIGHTS}:
            self._left[role] = ledger.on(role)
        for role in self._left.keys() & outlets.keys():
            self._loose_ends.add(_ends(self._left.pop(role)))
            self._loose_ends.add((role, data) for data in silence_messages())

    def _show(self, now_ns: int) -> None:
        self._view_due_ns = now_ns + VIEW_EVERY_NS
        self._view_wanted = False
        if self._lateness_is_new:
            self._lateness_is_new = False
            ordered = sorted(self._lateness_ns)
            self._late_ms_p99 = round(ordered[len(ordered) * 99 // 100] / 1e6, 3)
        rejected = sum(cleaner.rejected for cleaner in self._cleaners.values())
        rejected += sum(outlet.rejected for outlet in self._rack.outlets.values())
        view = engine_view(self.engine, now_ns, rejected + self.failures, self._late_ms_p99)
        heard = self.engine.ear.take(self.engine.ledger)
        if heard:
            self._report(("heard", heard))
        self._report(("view", tuple(view)))
        self._view_wanted = self._lamps.look(now_ns)

    # The end

    def _tie_up(self, now_ns: int) -> None:
        ends = self._loose_ends.take(now_ns, self._rack.outlets)
        if ends:
            self._release(ends, now_ns)

    def _release(self, endings: list[tuple[str, bytes]], now_ns: int) -> None:
        """Send what ends notes that were left sounding: (port, message)."""
        outputs: list[Output] = [Record(now_ns, "out", port, data) for port, data in endings]
        self._send(outputs)
        self._report(("records", outputs))

    def _quit(self) -> None:
        """Release what sounds, then close the ports, which waits until it has left."""
        self._step(Do(self._clock.now_ns(), "release"))
        self._lamps.put_out(self._clock.now_ns())
        self._rack.close()


def _ends(soundings: list[Sounding]) -> list[tuple[str, bytes]]:
    return [(s.port, note_off(s.channel, s.note)) for s in soundings]
